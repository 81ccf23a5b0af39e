"""Units' lives of a ledger whose history was built before, as the exposure makes its spells from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.spells.ages import Ages, ages_of, read_lives
from analytics.spells.events import numbers_of
from analytics.spells.steps import Steps, read_steps

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from analytics.parameters import Parameters
    from analytics.spells.stretches import Lives

NO_KM = pl.DataFrame(schema={"order_id": pl.String, "stated_km": pl.Int64})


def lives_of(connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters) -> tuple[Lives, Ages, Steps]:
    """Return units' lives, their spells by age, and the repairs by number, without distances."""
    values = {"as_of": as_of, **parameters.as_dict()}
    steps = read_steps(connection, NO_KM)
    slot = connection.table("slot").pl().sort("slot_no")
    lives = read_lives(connection, values, steps, numbers_of(slot["window_no"]) - 1)
    return lives, ages_of(connection, values, lives), steps
