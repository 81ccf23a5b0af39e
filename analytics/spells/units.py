"""Spells and units by name: tables keyed by number are put in order and given the names of their cars and parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import numbers_of
from analytics.spells.marks import SPAN

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.spells.clocks import Clock
    from analytics.spells.steps import Steps

SPELL_COLUMNS = (
    *("vehicle_id", "component", "position", "unit_no", "series", "variant", "part_no", "part_origin", "scale"),
    *("entry", "exit", "exit_lower", "event", "cause", "age_known", "vehicle_age", "position_inferred"),
    *("reason_recorded", "start_record", "end_record", "variant_told_by", "km_per_year"),
)
FACT_COLUMNS = (
    *("unit_no", "variant", "part_no", "part_origin", "cause", "age_known", "position_inferred", "reason_recorded"),
    *("start_record", "end_record", "variant_told_by"),
)
UNIT_COLUMNS = (
    *(
        "unit_no",
        "variant",
        "part_no",
        "part_origin",
        "fitted_on",
        "age",
        "age_known",
        "state",
        "start_record",
        "vehicle_age",
    ),
    "distance",
)
PLACE_COLUMNS = (
    *("slot_no", "unit_no", "variant", "part_no", "part_origin", "age_known", "built_on", "zero_on", "told_by"),
    *("whole_car", "fit_step", "fit_fault_on"),
)
"""What is read of a stretch for the unit in place."""

_days_of_car = (pl.col("zero_on") - pl.col("built_on")).dt.total_days()
NUMBERS = ("entry", "exit", "exit_lower", "event", "vehicle_age")


@dataclass(frozen=True, slots=True)
class Slots:
    """Positions by number: row i holds slot_no i + 1.

    Attributes
    ----------
    name
        vehicle_id, component, position, series.
    car
        Number of the car, as `Clock.km_of` takes it.
    window
        window_no, of the component on that car.
    """

    name: pl.DataFrame
    car: NDArray[np.int64]
    window: pl.Series


def slots_of(slot: pl.DataFrame, vehicle: pl.DataFrame) -> Slots:
    """Return the positions by number.

    Parameters
    ----------
    slot
        slot_no (1, 2, 3), window_no, car_no (1, 2, 3 by vehicle_id), vehicle_id, component, position.
    vehicle
        vehicle_id, series; one row per car, sorted by vehicle_id.
    """
    rows = slot.sort("slot_no")
    car = numbers_of(rows["car_no"]) - 1
    name = rows.select("vehicle_id", "component", "position").with_columns(series=vehicle["series"].gather(car))
    return Slots(name, car, rows["window_no"])


def spells(facts: pl.DataFrame, ages: pl.DataFrame, distances: pl.DataFrame, slots: Slots) -> pl.DataFrame:
    """Return the spells on both scales; only the last piece of a spell carries its end.

    Parameters
    ----------
    facts
        One row per stretch with a spell, sorted by stretch_id: what both scales share.
    ages
        The pieces by age: stretch_id, is_last and the numbers of each; sorted by stretch_id and entry.
    distances
        As `distance_spells` returns them, one row per row of `facts`.
    slots
        The positions by number.
    """
    pieces = _pieces(facts, ages, distances)
    row = pieces["row"]
    shared = facts.select(FACT_COLUMNS)[row]
    names = slots.name[facts["slot_no"].gather(row) - 1]
    last = pieces["is_last"]
    return (
        pl.concat([pieces, shared, names], how="horizontal")
        .with_columns(
            scale=pl.when("by_distance").then(pl.lit("distance")).otherwise(pl.lit("age")),
            cause=pl.when(last).then("cause").otherwise(pl.lit("window end")),
            end_record=pl.when(last).then("end_record"),
            reason_recorded=pl.col("reason_recorded") | ~last,
        )
        .select(SPELL_COLUMNS)
    )


def _pieces(facts: pl.DataFrame, ages: pl.DataFrame, distances: pl.DataFrame) -> pl.DataFrame:
    """Return row (of facts), by_distance, is_last, km_per_year and the numbers, by unit, scale and entry."""
    ids = facts["stretch_id"].to_numpy()
    slot, unit = facts["slot_no"].to_numpy(), facts["unit_no"].to_numpy()
    is_next = np.r_[False, (slot[1:] != slot[:-1]) | (unit[1:] != unit[:-1])][: ids.size]
    unit_rank = np.cumsum(is_next)
    numbers = pl.col(NUMBERS).cast(pl.Int64)
    by_age = ages.select(
        numbers,
        "is_last",
        row=pl.Series(np.searchsorted(ids, ages["stretch_id"].to_numpy())),
        by_distance=pl.lit(value=False),
        km_per_year=pl.lit(None, dtype=pl.Float64),
    )
    by_distance = (
        distances.with_row_index("row")
        .filter(pl.col("why_none").is_null())
        .select(
            numbers,
            "km_per_year",
            is_last=pl.lit(value=True),
            row=pl.col("row").cast(pl.Int64),
            by_distance=pl.lit(value=True),
        )
    )
    rows = pl.concat([by_age, by_distance.select(by_age.columns)])
    # one rising number, and in order already on either scale
    unit, later, entry = unit_rank[rows["row"].to_numpy()], rows["by_distance"].to_numpy(), rows["entry"].to_numpy()
    return rows[np.argsort((2 * unit + later) * SPAN + entry, kind="stable")]


def units_in_place(facts: pl.DataFrame, states: pl.Series) -> pl.DataFrame:
    """Return the last stretch of every position, with the state of its unit.

    Parameters
    ----------
    facts
        One row per stretch, sorted by stretch_id.
    states
        State of each stretch's unit, as `unit_states` returns them.
    """
    last = ~pl.col("whole_car") & (pl.col("slot_no") != pl.col("slot_no").shift(-1)).fill_null(value=True)
    return (
        facts.select(PLACE_COLUMNS)
        .with_columns(state=states)
        .filter(last)
        .with_columns(fitted_on=pl.when(pl.col("told_by") != "nobody").then("zero_on"))
    )


def units_now(
    units: pl.DataFrame, slots: Slots, clock: Clock, steps: Steps, vehicle: pl.DataFrame, as_of: date
) -> pl.DataFrame:
    """Return the unit in each position, with its km; of its car when it was fitted, else when the car joined.

    Parameters
    ----------
    units
        At most one per position, as `units_in_place` returns them.
    slots
        The positions by number.
    clock
        The cars' clocks.
    steps
        The repairs by number, with the total distance told on their orders.
    vehicle
        vehicle_id, first_visit_day; one row per car, sorted by vehicle_id.
    as_of
        Last day that counts.
    """
    slot = units["slot_no"].to_numpy() - 1
    cars = slots.car[slot]
    every = np.arange(vehicle.height)
    fitted = steps.of("stated_km", units["fit_step"]).fill_null(clock.km_of(cars, units["fit_fault_on"]))
    known = fitted.fill_null(clock.km_of(cars, units["fitted_on"]))
    joined = clock.km_of(every, vehicle["first_visit_day"]).gather(cars).fill_null(clock.km_of(cars, units["zero_on"]))
    now = clock.km_of(every, pl.repeat(as_of, every.size, dtype=pl.Date, eager=True)).gather(cars)
    began = pl.select(pl.when(units["fitted_on"].is_not_null()).then(known).otherwise(joined)).to_series()
    told = units.with_columns(
        start_record=steps.of("line_id", units["fit_step"]),
        age=(pl.lit(as_of) - pl.col("zero_on")).dt.total_days(),
        vehicle_age=_days_of_car,
        distance=(now - began).clip(lower_bound=0),
    )
    return pl.concat([slots.name[slot], told.select(UNIT_COLUMNS)], how="horizontal").select(
        "vehicle_id", "component", "position", "unit_no", "series", *UNIT_COLUMNS[1:]
    )


def unit_history(facts: pl.DataFrame, slots: Slots) -> pl.DataFrame:
    """Return every unit that a position ever held, sorted by position and unit (rule 24).

    Parameters
    ----------
    facts
        One row per stretch, sorted by stretch_id.
    slots
        The positions by number.

    Returns
    -------
    DataFrame
        vehicle_id, series, component, position, unit_no; zero_on (fitting, or joining where that is not known),
        age_known, is_used (rule 19), vehicle_age (days since built_on at zero_on), variant (where the fitting or the
        factory tells it, else unknown).
    """
    units = facts.filter((pl.col("stretch_no") == 1) & ~pl.col("whole_car"))
    told = pl.col("variant_told_by").is_in(["fitting", "factory"])
    return pl.concat(
        [
            slots.name.select("vehicle_id", "series", "component", "position")[units["slot_no"] - 1],
            units.select(
                "unit_no",
                "zero_on",
                "age_known",
                "is_used",
                vehicle_age=_days_of_car,
                variant=pl.when(told).then("variant").otherwise(pl.lit("unknown")),
            ),
        ],
        how="horizontal",
    )
