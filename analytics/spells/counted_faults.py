"""Faults that count: one per visit, component and position (rules 8, 10, 11, 21, 23, 35)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import numbers_of
from analytics.spells.fates import dates
from analytics.spells.marks import NO_DAY
from analytics.spells.slot_events import FAULTS
from analytics.spells.stretches import ORDER

if TYPE_CHECKING:
    from analytics.spells.ages import Ages
    from analytics.spells.clocks import Clock
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives

COLUMNS = (
    *("slot_no", "window_no", "fault_record", "vehicle_id", "series", "visit_day", "component", "position"),
    *("location", "reads_as", "why_unused", "used", "in_spell", "position_inferred"),
)


def fault_events(lives: Lives, ages: Ages, steps: Steps, vehicle: pl.DataFrame, clock: Clock) -> pl.DataFrame:
    """Return every fault counted.

    Parameters
    ----------
    lives
        Units' lives.
    ages
        What became of the units by age.
    steps
        The repairs by number.
    vehicle
        vehicle_id, series; one row per car, sorted by vehicle_id.
    clock
        The clocks of those cars.

    Returns
    -------
    DataFrame
        slot_no (null where the car has no such position), window_no (null where the component is not on the car),
        fault_record, vehicle_id, series, visit_day, component, position, location, reads_as; why_unused (null where
        used), used (within the component's window, and not there before the car joined); in_spell (it ended a spell as
        an event); position_inferred (rule 16 filled the position in).
    """
    windows = lives.windows
    rows = pl.concat([_at_units(lives, ages, steps), _elsewhere(steps)], how="diagonal_relaxed")
    window = numbers_of(rows["window_no"]) - 1
    on_car = window >= 0
    joined_on, end_on = (
        dates(np.where(on_car, days[window], NO_DAY) if days.size else np.full(window.size, NO_DAY))
        for days in (windows.joined_on, windows.end_on[0])
    )
    return (
        rows.with_columns(
            series=vehicle["series"].gather(clock.cars(rows["vehicle_id"])), joined_on=joined_on, end_on=end_on
        )
        .with_columns(
            why_unused=pl.when(pl.col("window_no").is_null())
            .then(pl.lit("component not on this car"))
            .when("existed")
            .then(pl.lit("joining fault"))
            .when(pl.col("fault_on") < pl.col("joined_on"))
            .then(pl.lit("before the car was watched"))
            .when(pl.col("end_on").is_null())
            .then(pl.lit("no neutral visit"))
            .when(pl.col("visit_day") > pl.col("end_on"))
            .then(pl.lit("after the last neutral visit"))
        )
        .with_columns(used=pl.col("why_unused").is_null())
        .select(COLUMNS)
    )


def _at_units(lives: Lives, ages: Ages, steps: Steps) -> pl.DataFrame:
    """Return the faults of units; a fault that was found and left is no second one when it is mended."""
    stretches, events = lives.stretches, lives.events
    current = stretches.current
    in_spell = events.ends & ages.fates.ended[current] & ages.fates.event[current] & (ages.why_none[current] == 0)
    # unless an order of ours had fitted that unit (rule 21)
    existed = events.flags("joining") & (stretches.told_by[current] != ORDER)
    rows = np.flatnonzero(events.flags("is_fault") & ~events.flags("open_fault"))
    by_weight = np.lexsort(
        (
            rows,
            ~in_spell[rows],
            events.flags("position_inferred")[rows],
            events.days("visit_day")[rows],
            events.slot[rows],
        )
    )
    rows = rows[by_weight]
    slot, day = events.slot[rows], events.days("visit_day")[rows]
    first = np.ones(rows.size, dtype=bool)
    first[1:] = (slot[1:] != slot[:-1]) | (day[1:] != day[:-1])
    rows = rows[first]
    told = events.told.select(
        "slot_no", "visit_day", "fault_on", "reads_as", "position_inferred", "end_step", "place_step"
    )[rows]
    of_repair = steps.rows(told["end_step"], "window_no", "line_id", "vehicle_id", "component", "position")
    return pl.concat([told, of_repair], how="horizontal").with_columns(
        fault_record="line_id",
        location=steps.of("location", told["place_step"]),
        existed=pl.Series(existed[rows], dtype=pl.Boolean),
        in_spell=pl.Series(in_spell[rows], dtype=pl.Boolean),
    )


def _elsewhere(steps: Steps) -> pl.DataFrame:
    """Return the faults of components counted for the whole car, and of places that the car does not have."""
    rows = steps.told.filter(pl.col("reads_as").is_in(FAULTS) & pl.col("whole_car").fill_null(value=True))
    strength = pl.col("reads_as").replace_strict(list(FAULTS), range(len(FAULTS)), return_dtype=pl.Int64)
    place = ["vehicle_id", "component", "position", "visit_day"]
    return (
        rows.with_columns(
            existed=pl.col("joining") & ~pl.col("ours"),
            in_spell=pl.lit(value=False),
            fault_record="line_id",
            strength=strength,
        )
        .sort(*place, "position_inferred", "strength", "line_id")
        .unique(place, keep="first", maintain_order=True)
    )
