"""What the forecast of demand is handed: records, and the units in place with their lives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.recurrence.lives import GROUP, fitted_variant, with_default_grouping
from analytics.recurrence.wear import scale_choices
from analytics.spells.exposure import build_exposure
from analytics.spells.history import history_table
from analytics.stock import CareRecords, StockRecords

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from analytics.parameters import Parameters
    from analytics.spells.exposure import Exposure


FEED = ("line", "visit", "parts", "counter_sale", "component_fact", "stock", "car")
"""Tables of the history that a forecast reads."""


FROM_SALE = "sale "
"""How the name of a line begins that was read from a part invoice (`repair_line.sql`); where jobs are, none does."""


def fair_spells(exposure: Exposure) -> pl.DataFrame:
    """Return the spells that lives are made from.

    Rule 29: a component gets no distance law where failed units lack their km more, or less, often than others.
    """
    refused = without_distance_law(exposure)
    return exposure.spell.filter((pl.col("scale") == "age") | ~pl.col("component").is_in(refused))


def without_distance_law(exposure: Exposure) -> list[str]:
    """Return the components that get no distance law."""
    refused: list[str] = exposure.distance_share.filter("refused")["component"].to_list()
    return refused


def handed_on(
    connection: duckdb.DuckDBPyConnection, day: date, parameters: Parameters
) -> tuple[StockRecords, CareRecords, pl.DataFrame]:
    """Return what was known on a day: records, units in place, and counts of the stock.

    Parameters
    ----------
    connection
        An open ledger.
    day
        Last day that counts.
    parameters
        The named defaults.
    """
    exposure = build_exposure(connection, day, parameters)
    feed = {name: history_table(connection, name) for name in FEED}
    scales = scale_choices(exposure.spell, without_distance_law(exposure), parameters)
    care = care_records(exposure, fair_spells(exposure), feed["component_fact"], scales, parameters)
    return stock_records(exposure, feed, day), care, feed["stock"]


def stock_records(exposure: Exposure, feed: dict[str, pl.DataFrame], as_of: date) -> StockRecords:
    """Return the records that demand is counted from.

    Parameters
    ----------
    exposure
        Of the as-of day.
    feed
        Tables ``line``, ``visit``, ``parts``, ``counter_sale`` and ``car`` by name.
    as_of
        Last day that counts.
    """
    return StockRecords(
        lines=feed["line"].filter(pl.col("part_no").is_not_null() | pl.col("fitted_instead_of").is_not_null()),
        visits=feed["visit"].filter(pl.col("day") <= as_of),
        vehicles=exposure.vehicle.join(
            feed["car"].select("vehicle_id", "serial"), on="vehicle_id", how="left", maintain_order="left"
        ),
        parts=feed["parts"],
        sales=feed["counter_sale"],
        invoices=bool(feed["line"]["line_id"].str.starts_with(FROM_SALE).any()),
    )


def care_records(
    exposure: Exposure, spells: pl.DataFrame, facts: pl.DataFrame, scales: pl.DataFrame, parameters: Parameters
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
    scales
        Snapshot table ``scale_choice``.
    parameters
        Rule 33: which components go by variant.
    """
    families = facts.select("component", "family")
    variants = spells.with_columns(grouping=pl.lit("variant"), level=fitted_variant())
    counted = variants.group_by(GROUP).agg(failures=pl.col("event").sum())
    return CareRecords(
        units=exposure.unit_history,
        faults=exposure.fault,
        spells=spells.join(families, on="component", how="left").with_columns(fitted_variant=fitted_variant()),
        groupings=with_default_grouping(counted, spells, parameters),
        scales=scales,
        facts=facts.select("component", "family", "safety_critical"),
    )
