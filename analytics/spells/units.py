"""Spells and units by name: tables keyed by number are put in order and given the names of their cars and parts."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import numbers_of
from analytics.spells.facts import ends_told, unit_states
from analytics.spells.fates import dates
from analytics.spells.gathering import or_null, where
from analytics.spells.marks import NO_DAY, SPAN
from analytics.spells.stretches import NOBODY

if TYPE_CHECKING:
    from datetime import date

    from analytics.spells.clocks import Clock
    from analytics.spells.events import Flags, Numbers
    from analytics.spells.slots import Slots
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives
    from analytics.spells.variants import Variants

SPELL_COLUMNS = (
    *("vehicle_id", "component", "position", "unit_no", "series", "variant", "part_no", "part_origin", "scale"),
    *("entry", "exit", "exit_lower", "event", "cause", "age_known", "vehicle_age", "position_inferred"),
    *("reason_recorded", "start_record", "end_record", "variant_told_by", "km_per_year"),
)
UNIT_COLUMNS = (
    *("vehicle_id", "component", "position", "unit_no", "series", "variant", "part_no", "part_origin", "fitted_on"),
    *("age", "age_known", "state", "start_record", "vehicle_age", "distance"),
)
NUMBERS = ("entry", "exit", "exit_lower", "event", "vehicle_age")


@dataclass(frozen=True, slots=True)
class Units:
    """Units' lives, and where what is told of them is looked up: their designs, repairs, and positions by number."""

    lives: Lives
    variants: Variants
    steps: Steps
    slots: Slots


def spells(facts: pl.DataFrame, ages: pl.DataFrame, distances: pl.DataFrame, units: Units) -> pl.DataFrame:
    """Return the spells on both scales; only the last piece of a spell carries its end.

    Parameters
    ----------
    facts
        One row per stretch with a spell, as `stretch_facts` returns them: what both scales share.
    ages
        The pieces by age: stretch_id, is_last and the numbers of each; sorted by stretch_id and entry.
    distances
        As `distance_spells` returns them, one row per row of `facts`.
    units
        Units' lives.
    """
    pieces = _pieces(facts, ages, distances)
    row = numbers_of(pieces["row"])
    stretch = numbers_of(facts["stretch_id"])[row] - 1
    ended = np.where(pieces["is_last"].to_numpy(), facts["end_event"].to_numpy()[row], -1)
    shared = facts.select("unit_no", "age_known", "position_inferred", "start_step", "fit_step")[row]
    told = pl.DataFrame(
        {
            "scale": pl.Series(["age", "distance"]).gather(pieces["by_distance"].cast(pl.UInt32)),
            **{name: units.variants.of(name, stretch) for name in ("variant", "part_no", "variant_told_by")},
            "part_origin": units.steps.part_origin(shared["fit_step"]),
            "start_record": units.steps.of("line_id", shared["start_step"]),
        }
    )
    names = units.slots.names(units.lives.stretches.slot[stretch])
    ends = ends_told(units.lives.events, or_null(ended), units.steps)
    return pl.concat([pieces, shared, told, ends, names], how="horizontal").select(SPELL_COLUMNS)


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


def units_now(units: Units, clock: Clock, vehicle: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Return the unit in each position, with its km; of its car when it was fitted, else when the car joined.

    Parameters
    ----------
    units
        Units' lives, with the total distance told on the orders of repairs.
    clock
        The cars' clocks.
    vehicle
        vehicle_id, first_visit_day; one row per car, sorted by vehicle_id.
    as_of
        Last day that counts.
    """
    lives, steps, stretches = units.lives, units.steps, units.lives.stretches
    rows = _last_of_positions(lives)
    slot, step = stretches.slot[rows], pl.Series(stretches.fit_step[rows])
    cars, every = units.slots.car[slot], np.arange(vehicle.height)
    zero_on = dates(stretches.zero_on[rows])
    fitted_on = dates(np.where(stretches.told_by[rows] != NOBODY, stretches.zero_on[rows], NO_DAY))
    ordered_on = lives.events.told["fault_on"].gather(or_null(stretches.begin[stretches.unit[rows]]))
    fitted = steps.of("stated_km", step).fill_null(clock.km_of(cars, ordered_on))
    known = fitted.fill_null(clock.km_of(cars, fitted_on))
    joined = clock.km_of(every, vehicle["first_visit_day"]).gather(cars).fill_null(clock.km_of(cars, zero_on))
    now = clock.km_of(every, pl.repeat(as_of, every.size, dtype=pl.Date, eager=True)).gather(cars)
    began = pl.select(pl.when(fitted_on.is_not_null()).then(known).otherwise(joined)).to_series()
    told = pl.DataFrame(
        {
            "unit_no": stretches.unit_no[rows],
            "variant": units.variants.of("variant", rows),
            "part_no": units.variants.of("part_no", rows),
            "part_origin": steps.part_origin(step),
            "fitted_on": fitted_on,
            "age": pl.select(pl.lit(as_of) - zero_on).to_series().dt.total_days(),
            "age_known": stretches.age_known[rows],
            "state": unit_states(lives).gather(rows),
            "start_record": steps.of("line_id", step),
            "vehicle_age": _age_of_car(lives, rows),
            "distance": (now - began).clip(lower_bound=0),
        }
    )
    return pl.concat([units.slots.names(slot), told], how="horizontal").select(UNIT_COLUMNS)


def unit_history(units: Units) -> pl.DataFrame:
    """Return every unit that a position ever held, sorted by position and unit (rule 24).

    Parameters
    ----------
    units
        Units' lives.

    Returns
    -------
    DataFrame
        vehicle_id, series, component, position, unit_no; zero_on (fitting, or joining where that is not known),
        age_known, is_used (rule 19), vehicle_age (days since built_on at zero_on), variant (where the fitting or the
        factory tells it, else unknown).
    """
    variants, stretches = units.variants, units.lives.stretches
    rows = np.flatnonzero((stretches.stretch_no == 1) & _at_position(units.lives))
    told = pl.col("variant_told_by").is_in(["fitting", "factory"])
    told_variant = variants.told.select(pl.when(told).then("variant").otherwise(pl.lit("unknown"))).to_series()
    return units.slots.names(stretches.slot[rows]).select(
        *("vehicle_id", "series", "component", "position"),
        unit_no=pl.Series(stretches.unit_no[rows]),
        zero_on=dates(stretches.zero_on[rows]),
        age_known=pl.Series(stretches.age_known[rows]),
        is_used=pl.Series(stretches.is_used[rows]),
        vehicle_age=_age_of_car(units.lives, rows),
        variant=told_variant.gather(variants.row[rows]),
    )


def _at_position(lives: Lives) -> Flags:
    """Return whether each stretch is one of a position, not of a component that is counted for the whole car."""
    at_position: Flags = ~lives.windows.whole_car[lives.stretches.window]
    return at_position


def _last_of_positions(lives: Lives) -> Numbers:
    """Return the last stretch of every position."""
    slot = lives.stretches.slot
    last = np.ones(slot.size, dtype=bool)
    last[:-1] = slot[1:] != slot[:-1]
    return np.flatnonzero(last & _at_position(lives))


def _age_of_car(lives: Lives, rows: Numbers) -> pl.Series:
    """Return the car's age in days when the age of each stretch's unit began to count, null where not known."""
    built_on, zero_on = lives.windows.built_on[lives.stretches.window[rows]], lives.stretches.zero_on[rows]
    return where((built_on != NO_DAY) & (zero_on != NO_DAY), zero_on.astype(np.int64) - built_on)
