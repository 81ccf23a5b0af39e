"""What closed jobs tell of complaints: the causes found, what checks take, and the readings taken at them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from analytics.spells.run_sql import create_table, query

if TYPE_CHECKING:
    import duckdb
    import polars as pl

TABLES = ("complaint_line",)
"""Temporary tables of this stage; each is the select of the same name in ``sql``."""

READ_ONCE = ("complaint_cause", "check_fact", "reading_taken")
"""Selects of this stage that no other one reads."""


@dataclass(frozen=True, slots=True)
class Complaints:
    """Complaints, checks and readings, as of a day.

    Attributes
    ----------
    cause
        One row per visit, complaint and component found to cause it: record, vehicle_id, series, came_on, closed_on,
        complaint, component, location, outcome, weight (2520 in all for a visit with a cause).
    fact
        One row per component and series that has it: check_minutes, inspections, inspected_minutes, locations.
    reading
        One row per line with a reading: record, vehicle_id, series, read_on, component, position, measured,
        measured_unit.
    """

    cause: pl.DataFrame
    fact: pl.DataFrame
    reading: pl.DataFrame


def read_complaints(connection: duckdb.DuckDBPyConnection) -> Complaints:
    """Read what the records tell of complaints and checks.

    Parameters
    ----------
    connection
        A connection on which `build_history` has run; its day is the last that counts.
    """
    for name in TABLES:
        create_table(connection, name, {})
    cause, fact, reading = (query(connection, name, {}) for name in READ_ONCE)
    return Complaints(cause.sort("complaint", "closed_on", "record"), fact, reading)
