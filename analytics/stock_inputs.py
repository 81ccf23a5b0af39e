"""What the forecast of demand is handed: records, and the units in place with their lives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.recurrence.lives import fitted_variant
from analytics.stock import CareRecords, StockRecords

if TYPE_CHECKING:
    from datetime import date

    from analytics.spells.exposure import Exposure


def stock_records(exposure: Exposure, feed: dict[str, pl.DataFrame], as_of: date) -> StockRecords:
    """Return the records that demand is counted from.

    Parameters
    ----------
    exposure
        Of the as-of day.
    feed
        Tables ``line``, ``visit``, ``parts`` and ``counter_sale`` by name.
    as_of
        Last day that counts.
    """
    return StockRecords(
        lines=feed["line"].filter(pl.col("part_no").is_not_null() | pl.col("fitted_instead_of").is_not_null()),
        visits=feed["visit"].filter(pl.col("day") <= as_of),
        vehicles=exposure.vehicle,
        parts=feed["parts"],
        sales=feed["counter_sale"],
    )


def care_records(
    exposure: Exposure, spells: pl.DataFrame, facts: pl.DataFrame, models: pl.DataFrame, scales: pl.DataFrame
) -> CareRecords:
    """Return the units in place and what their lives are fitted from.

    Parameters
    ----------
    exposure
        Of the as-of day.
    spells
        Those that lives are made from.
    facts
        `component`, `family`, `safety_critical`.
    models, scales
        Snapshot tables ``life_model`` and ``scale_choice``.
    """
    families = facts.select("component", "family")
    return CareRecords(
        units=exposure.unit_history,
        faults=exposure.fault,
        spells=spells.join(families, on="component", how="left").with_columns(fitted_variant=fitted_variant()),
        models=models,
        scales=scales,
        facts=facts.select("component", "family", "safety_critical"),
    )
