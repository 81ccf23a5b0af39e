"""The spells by age if watching ended otherwise: what a life turns on, beside the choice of rule 23."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analytics.spells.units import Slots

ENDINGS = ("last visit", "last visit and grace", "day of analysis")
"""Choices beside the last neutral visit (rule 23), in the order of their numbers from 1 on."""


def spells_by_ending(ages: Sequence[pl.DataFrame], facts: pl.DataFrame, slots: Slots) -> pl.DataFrame:
    """Return the spells by age once per other choice of the day on which watching ends.

    Parameters
    ----------
    ages
        The pieces by age of each ending, sorted by stretch_id and entry.
    facts
        One row per stretch, sorted by stretch_id.
    slots
        The positions by number.

    Returns
    -------
    DataFrame
        ending (one of `ENDINGS`), vehicle_id, component, position, unit_no, entry, exit, exit_lower (days), event,
        age_known, vehicle_age (days).

    References
    ----------
    .. [1] Lesko et al. (2018), American Journal of Epidemiology 187(3), 623-632: what the choice does to an estimate.
    """
    rows = pl.concat(ages)
    stretch = rows["stretch_id"] - 1
    names = slots.name.select("vehicle_id", "component", "position")[facts["slot_no"].gather(stretch) - 1]
    ending = pl.Series(ENDINGS).gather(rows["ending"] - 1)
    numbers = rows.select(pl.col("entry", "exit", "exit_lower", "event").cast(pl.Int64))
    return pl.concat(
        [
            ending.to_frame("ending"),
            names,
            facts.select("unit_no")[stretch],
            numbers,
            facts.select("age_known")[stretch],
            rows.select(pl.col("vehicle_age").cast(pl.Int64)),
        ],
        how="horizontal",
    )
