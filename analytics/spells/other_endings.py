"""Spells as they would be if watching ended on another day, to show how much an answer turns on that choice."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.spells.run_sql import create_table, query

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from analytics.parameters import Parameters
    from analytics.spells.units import Slots

ENDINGS = ("last visit", "last visit and grace", "day of analysis")
"""Choices beside the last neutral visit (rule 23)."""

CUT_BY_WINDOW = ("stretch_fate", "stretch_stay", "age_spell")
"""Tables that the end of watching cuts, in order of creation."""


def spells_by_ending(
    connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters, slots: Slots
) -> pl.DataFrame:
    """Return the spells by age once per other choice of the day on which watching ends.

    Parameters
    ----------
    connection
        A connection on which the tables of the spells stand; they are left as they are.
    as_of
        Last day that counts.
    parameters
        `grace_gaps` and `grace_most_days`.
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
    values = {"as_of": as_of, **parameters.as_dict()}
    rows = pl.concat(
        [_spells(connection, {**values, "ending": ending}).with_columns(ending=pl.lit(ending)) for ending in ENDINGS]
    )
    names = slots.name.select("vehicle_id", "component", "position")[rows["slot_no"] - 1]
    return pl.concat([rows.select("ending"), names, rows.drop("ending", "slot_no")], how="horizontal")


def _spells(connection: duckdb.DuckDBPyConnection, values: dict[str, object]) -> pl.DataFrame:
    """Create the tables anew under another window, read the spells and put the tables back."""
    connection.begin()
    try:
        create_table(connection, "other_window", values)
        connection.execute("create or replace temp table watch_window as select * from other_window")
        for name in CUT_BY_WINDOW:
            create_table(connection, name, values)
        return query(connection, "other_spell", values).sort("stretch_id", "entry").drop("stretch_id")
    finally:
        connection.rollback()
