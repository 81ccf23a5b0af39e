"""Read the ledger as of a day: visits, cars, positions, repairs, windows, and what was left out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.ledger.names import unite_names
from analytics.safety import PATTERN
from analytics.spells.positions import FilledPositions, UnitEvents, fill_positions
from analytics.spells.run_sql import create_table, hand_in, query

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

TABLES_BEFORE_POSITIONS = (
    "repair_line",
    "counter_sale",
    "order_part",
    "order_line",
    "presence",
    "visit",
    "order_visit",
    "part_component",
    "renewing_action",
    "told_line",
    "line",
    "car",
    "component_layout",
    "layout",
    "car_component",
    "line_place",
    "component_fact",
    "car_place",
    "slot",
    "unit_window",
    "unit_count",
    "unit_place",
    "unit_event",
)
TABLES_AFTER_POSITIONS = (
    "unit_line",
    "unit_reading",
    "repair_joined",
    "repair_draft",
    "joining_repair",
    "beside_failure",
    "repair",
    "not_neutral",
    "watch_window",
    "clean_line",
    "clean_check",
    "lay_up",
    "left_out_line",
    "left_out_unit",
    "left_out_car",
    "left_out_car_day",
    "left_out_visit",
    "left_out",
)

READ_WITHIN = (
    *("repair_line", "order_part", "part_component", "presence", "order_visit", "told_line", "component_layout"),
    *("layout", "line_place", "unit_window", "unit_count", "unit_place", "unit_event", "unit_answer", "unit_reading"),
    *("repair_joined", "left_out_line", "left_out_unit", "left_out_car", "left_out_car_day", "left_out_visit"),
)
"""Tables that only this stage reads."""


def build_history(connection: duckdb.DuckDBPyConnection, as_of: date, parameters: Parameters) -> None:
    """Create the temporary tables that say what the closed records tell, as known on a day.

    Parameters
    ----------
    connection
        An open ledger, read-only is enough: its views of the feed's tables, ``seen`` and ``same_now``. From here on
        it reads one name for all spellings of a thing.
    as_of
        Last day that counts, in every table.
    parameters
        The named defaults of the rules of record.

    Notes
    -----
    The tables for the next stage are ``line``, ``visit``, ``car``, ``slot``, ``component_fact``, ``repair``,
    ``clean_check``, ``watch_window``, ``not_neutral``, ``lay_up`` and ``left_out``; the header of each file in
    ``sql`` lists the columns. Iteration over the events of a position is NumPy's, everything else is set work.
    """
    unite_names(connection, as_of)
    values = {"as_of": as_of, "safety_pattern": PATTERN, **parameters.as_dict()}
    for name in TABLES_BEFORE_POSITIONS:
        create_table(connection, name, values)
    answer = _unit_answers(query(connection, "unit_steps", values), query(connection, "unit_fit", values))
    hand_in(connection, "unit_answer", answer)
    for name in TABLES_AFTER_POSITIONS:
        create_table(connection, name, values)


def history_table(connection: duckdb.DuckDBPyConnection, name: str) -> pl.DataFrame:
    """Return a table of the ledger or of this stage as later stages read it: lines in order of line_id.

    Parameters
    ----------
    connection
        A connection on which `build_history` has run.
    name
        Name of the table.
    """
    rows: pl.DataFrame = connection.table(name).pl()
    return rows.sort("line_key") if name == "line" else rows


def _unit_answers(steps: pl.DataFrame, fit: pl.DataFrame) -> pl.DataFrame:
    """Return ``event_no``, ``position_no``, ``passing``: the unit of each event, and those it renews in passing."""
    events = UnitEvents(
        group=steps["group_no"].to_numpy(),
        order=steps["order_rank"].to_numpy(),
        position=steps["position_no"].to_numpy(),
        positions=steps["positions"].to_numpy(),
        renews=steps["renews"].to_numpy(),
        units=steps["units"].to_numpy(),
        day=steps["closed_day"].to_numpy(),
        fits=_fits(steps, fit),
    )
    filled = fill_positions(events)
    return _as_rows(filled)


def _fits(steps: pl.DataFrame, fit: pl.DataFrame) -> NDArray[np.bool_]:
    width = 0 if steps.is_empty() else int(steps["positions"].to_numpy().max())
    fits = np.ones((steps.height, width), dtype=bool)
    event, position = fit["event_no"].to_numpy(), fit["position_no"].to_numpy()
    fits[event] = False
    fits[event, position] = True
    return fits


def _as_rows(filled: FilledPositions) -> pl.DataFrame:
    event, position = np.nonzero(filled.passing)
    primary = np.arange(filled.position.size)
    return pl.DataFrame(
        {
            "event_no": np.concatenate([primary, event]).astype(np.int64),
            "position_no": np.concatenate([filled.position, position]).astype(np.int64),
            "passing": np.concatenate([np.zeros(primary.size, dtype=bool), np.ones(event.size, dtype=bool)]),
        }
    )
