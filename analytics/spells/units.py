"""Spells and units by name: tables keyed by number are put in order and given the names of their cars and parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.distance import stated_km

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.spells.clocks import Clock

SPELL_COLUMNS = (
    *("vehicle_id", "component", "position", "unit_no", "series", "variant", "part_no", "part_origin", "scale"),
    *("entry", "exit", "exit_lower", "event", "cause", "age_known", "vehicle_age", "position_inferred"),
    *("reason_recorded", "start_record", "end_record", "variant_told_by", "km_per_year"),
)
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
    """

    name: pl.DataFrame
    car: NDArray[np.int64]


def slots_of(slot: pl.DataFrame, vehicle: pl.DataFrame, clock: Clock) -> Slots:
    """Return the positions by number.

    Parameters
    ----------
    slot
        slot_no (1, 2, 3), vehicle_id, component, position.
    vehicle
        vehicle_id, series; one row per car, sorted by vehicle_id.
    clock
        The clocks of those cars.
    """
    rows = slot.sort("slot_no")
    car = clock.cars(rows["vehicle_id"])
    name = rows.select("vehicle_id", "component", "position").with_columns(series=vehicle["series"].gather(car))
    return Slots(name, car)


def spells(facts: pl.DataFrame, ages: pl.DataFrame, distances: pl.DataFrame, slots: Slots) -> pl.DataFrame:
    """Return the spells on both scales; only the last piece of a spell carries its end.

    Parameters
    ----------
    facts
        One row per stretch with a spell, sorted by stretch_id: what both scales share.
    ages
        stretch_id, is_last and the numbers of each piece by age.
    distances
        As `distance_spells` returns them, one row per row of `facts`.
    slots
        The positions by number.
    """
    pieces = _pieces(facts, ages, distances)
    row = pieces["row"]
    shared = facts.drop("stretch_id", "slot_no")[row]
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
    unit_rank = pl.Series(np.cumsum(is_next))
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
    return rows.with_columns(unit=unit_rank.gather(rows["row"])).sort("unit", "by_distance", "entry", "row")


def units_now(
    units: pl.DataFrame, slots: Slots, clock: Clock, stated: pl.DataFrame, vehicle: pl.DataFrame, as_of: date
) -> pl.DataFrame:
    """Add the km of every unit in place; the km of its car when it was fitted, else when the car joined.

    Parameters
    ----------
    units
        Units in place, at most one per position.
    slots
        The positions by number.
    clock
        The cars' clocks.
    stated
        order_id, stated_km.
    vehicle
        vehicle_id, first_visit_day; one row per car, sorted by vehicle_id.
    as_of
        Last day that counts.
    """
    units = units.sort("slot_no")
    slot = units["slot_no"].to_numpy() - 1
    cars = slots.car[slot]
    every = np.arange(vehicle.height)
    fitted = stated_km(units["start_order"], stated).fill_null(clock.km_of(cars, units["start_fault_on"]))
    known = fitted.fill_null(clock.km_of(cars, units["fitted_on"]))
    joined = clock.km_of(every, vehicle["first_visit_day"]).gather(cars).fill_null(clock.km_of(cars, units["zero_on"]))
    now = clock.km_of(every, pl.repeat(as_of, every.size, dtype=pl.Date, eager=True)).gather(cars)
    began = pl.select(pl.when(units["fitted_on"].is_not_null()).then(known).otherwise(joined)).to_series()
    names = slots.name[slot]
    facts = units.drop("slot_no", "unit_no", "zero_on", "start_order", "start_fault_on")
    return pl.concat(
        [
            names.drop("series"),
            units.select("unit_no"),
            names.select("series"),
            facts.with_columns(distance=(now - began).clip(lower_bound=0)),
        ],
        how="horizontal",
    )
