"""Repairs watched for their return, of a history that was built before, under other windows."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

from analytics.spells.clocks import EXCHANGE_SCHEMA, READING_SCHEMA, VEHICLE_SCHEMA, clocks
from analytics.spells.distance import order_km
from analytics.spells.events import numbers_of
from analytics.spells.returns import repaired, repaired_units
from analytics.spells.run_sql import create_table, query
from analytics.spells.steps import read_steps
from tests.spells.lives_of import lives_of

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl

    from analytics.parameters import Parameters


def repaired_of(connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters) -> pl.DataFrame:
    values = {"as_of": as_of, **parameters.as_dict()}
    read = partial(query, connection, values=values)
    create_table(connection, "watched_repair", values)
    figures, vehicle = read("reading_in"), read("vehicle").select(list(VEHICLE_SCHEMA))
    exchanged = read("instrument_exchange").select(list(EXCHANGE_SCHEMA))
    clock = clocks(figures.select(list(READING_SCHEMA)), vehicle, as_of, parameters, exchanged)
    repairs = connection.table("watched_repair").pl().sort("repair_no")
    steps = read_steps(connection, order_km(clock.reading, figures))
    lives, _, _ = lives_of(connection, as_of, parameters)
    in_place = repaired_units(repairs, lives.events.of_repair[numbers_of(repairs["repair_no"]) - 1], lives)
    return repaired(repairs, in_place, read("return_candidate"), clock, steps, parameters)
