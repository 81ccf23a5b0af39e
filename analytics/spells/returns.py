"""Repairs that can be seen to come back, how long each was watched, and the failure that brought it back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import days_of, numbers_of
from analytics.spells.gathering import or_null, where
from analytics.spells.marks import NO_DAY

if TYPE_CHECKING:
    from analytics.parameters import Parameters
    from analytics.spells.clocks import Clock
    from analytics.spells.events import Numbers
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives

COLUMNS = (
    *("record", "vehicle_id", "series", "component", "position", "is_blank", "positions", "action", "part_origin"),
    *("handed_on", "why_none", "is_new", "age", "age_known", "joined_age", "failed_at", "days_watched"),
    *("blank_share", "failure_share", "return_record", "returned_on", "days", "km"),
)


def repaired(
    repairs: pl.DataFrame,
    units: pl.DataFrame,
    candidates: pl.DataFrame,
    clock: Clock,
    steps: Steps,
    parameters: Parameters,
) -> pl.DataFrame:
    """Return the repairs with the days each is watched and the first failure within them (rule 37).

    Parameters
    ----------
    repairs
        Rows of ``watched_repair.sql``, sorted by repair_no.
    units
        As `repaired_units` returns them.
    candidates
        Rows of ``return_candidate.sql``: failures within the days of the window.
    clock
        The cars' clocks.
    steps
        The repairs by number, with the total distance told on their orders.
    parameters
        `return_days` and `return_km`.

    Returns
    -------
    polars.DataFrame
        record, vehicle_id, series, component, position, is_blank, positions, action, part_origin, handed_on; why_none
        (null where the repair is watched); is_new, age, age_known, joined_age, failed_at: of the unit handed over, age
        null where nothing is known of it; days_watched (whole days, at least 1); blank_share and failure_share of the
        component; return_record, returned_on, days, km (since hand-over, null where not known) of the return, null
        without one.

    Notes
    -----
    The window ends by the first of the two clocks. A car drives evenly between two readings, so of the window's days
    those are watched in which it comes to `return_km`; without readings all of them. A failure is held against
    the km stated on its own order and on the repair's, else against the clock (rule 29) at hand-over. A repair comes
    back once.
    """
    told = steps.rows(repairs["repair_no"], "line_id", "vehicle_id", "component", "position", "action", "part_origin")
    fitted = pl.when("part_used").then(pl.col("part_origin").fill_null("unknown")).otherwise(pl.lit("no part"))
    told = told.rename({"line_id": "record"})
    repairs = pl.concat([repairs, told], how="horizontal").with_columns(part_origin=fitted)
    cars = clock.cars(repairs["vehicle_id"])
    # while it stands in the workshop a car drives nothing
    begun = clock.km_of(cars, repairs["handed_on"])
    ended = clock.km_of(cars, repairs["handed_on"].dt.offset_by(f"{parameters.return_days}d"))
    stated = steps.of("stated_km", repairs["repair_no"])
    came = clock.km_of(cars, repairs["fault_on"])
    at = repairs.select(
        "repair_no", "fault_on", "record", km_then=stated.fill_null(begun), km_now=stated.fill_null(came)
    )
    driven = (ended - begun).clip(lower_bound=1)
    days = (parameters.return_days * parameters.return_km / driven).floor().clip(1, parameters.return_days)
    return (
        repairs.with_columns(days_watched=days.cast(pl.Int64).fill_null(parameters.return_days))
        .join(units, on="repair_no", how="left", maintain_order="left")
        .join(_first_returns(candidates, at, parameters), on="repair_no", how="left", maintain_order="left")
        .with_columns(age_known=pl.coalesce("age_known", "is_new"), age=pl.when("is_new").then(0).otherwise("age"))
        .select(COLUMNS)
    )


def repaired_units(repairs: pl.DataFrame, event: Numbers, lives: Lives) -> pl.DataFrame:
    """Return the repairs that left the unit in its place, with the unit's age when it was handed over (rule 37).

    Parameters
    ----------
    repairs
        Rows of ``watched_repair.sql``, sorted by repair_no.
    event
        Row of the event that each belongs to, -1 where it belongs to none, shape ``(repairs,)``.
    lives
        Units' lives.

    Returns
    -------
    DataFrame
        repair_no; age (days; since the car joined where the unit's age is not known), age_known; of a unit of unknown
        age joined_age (days of the car when it joined, null where nobody told when it was built) and failed_at (ages on
        the same clock at which the unit has failed so far; null if never).
    """
    stretches, windows, events = lives.stretches, lives.windows, lives.events
    left = np.flatnonzero(event >= 0)
    left = left[~events.flags("renews")[event[left]]]
    at = event[left]
    unit = stretches.unit[stretches.current[at]]
    began_on = stretches.began_on[unit].astype(np.int64)
    known = stretches.age_known[unit]
    built_on = windows.built_on[stretches.window[unit]]
    age = np.maximum(days_of(repairs["handed_on"].gather(left)) - began_on, 0)
    joined_age = np.maximum(began_on - built_on, 0)
    failed = _failed_at(at[~known], unit[~known], lives)
    return pl.DataFrame(
        {
            "repair_no": repairs["repair_no"].gather(left),
            "age": age,
            "age_known": known,
            "joined_age": where(~known & (built_on != NO_DAY), joined_age),
            "failed_at": failed.gather(where(~known, np.cumsum(~known) - 1)),
        }
    )


def _failed_at(event: Numbers, unit: Numbers, lives: Lives) -> pl.Series:
    """Return the ages at which each unit had failed by an event, null if never."""
    stretches, events = lives.stretches, lives.events
    failing = np.flatnonzero(events.told["reads_as"].is_in(["failure", "found at inspection"]).to_numpy())
    unit_of = stretches.unit[stretches.current[failing]]
    # failures of a unit follow each other
    first, end = np.searchsorted(unit_of, unit), np.searchsorted(failing, event, side="right")
    count = np.maximum(end - first, 0)
    row = np.repeat(np.arange(event.size), count)
    place = np.arange(row.size) - np.repeat(np.cumsum(count) - count, count) + np.repeat(first, count)
    since = events.days("fault_on")[failing[place]].astype(np.int64) - stretches.began_on[unit[row]]
    ages = pl.DataFrame({"row": row, "age": np.maximum(since, 0)}, schema={"row": pl.Int64, "age": pl.Int64})
    lists = ages.group_by("row", maintain_order=True).agg("age")
    held = np.full(event.size, -1)
    held[numbers_of(lists["row"])] = np.arange(lists.height)
    return lists["age"].gather(or_null(held))


def _first_returns(candidates: pl.DataFrame, at: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the first failure of each repair that lies within the km as well."""
    later = at.select(return_no="repair_no", return_record="record", returned_on="fault_on", km_now="km_now")
    # of two figures that contradict each other neither says how far
    since = pl.col("km_now") - pl.col("km_then")
    return (
        candidates.join(at.select("repair_no", "km_then"), on="repair_no", how="left", maintain_order="left")
        .join(later, on="return_no", how="left", maintain_order="left")
        .with_columns(km=pl.when(since >= 0).then(since))
        .filter(pl.col("km").is_null() | (pl.col("km") <= parameters.return_km))
        .sort("repair_no", "days", "return_record")
        .unique("repair_no", keep="first", maintain_order=True)
        .select("repair_no", "return_record", "returned_on", "days", "km")
    )
