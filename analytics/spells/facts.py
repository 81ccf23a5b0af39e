"""What the spells of units turn on: numbers and days of each stretch that gives one; texts stay where they are."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import flags_of, numbers_of
from analytics.spells.fates import dates
from analytics.spells.gathering import or_null, value_at

if TYPE_CHECKING:
    from analytics.spells.ages import Ages
    from analytics.spells.events import Events
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives

STATES = ("running", "after repair", "fault found and left")

WATCHING_ENDED = "window end"
"""How a spell ended that no record ended."""

CAUSE = {"changed in passing": "in passing"}
"""Words for what ended a spell, where they are not those of the reason."""


def stretch_facts(lives: Lives, ages: Ages) -> pl.DataFrame:
    """Return one row per stretch that gives a spell, in order of position, unit and stretch.

    Parameters
    ----------
    lives
        Units' lives.
    ages
        What became of them by age.

    Returns
    -------
    DataFrame
        stretch_id (1, 2, 3), slot_no, unit_no; age_known, position_inferred; event; zero_on, began_on, start_on,
        last_on, lower_on; fit_step, fit_fault_on, start_step, start_fault_on, end_step (repair_no, 0 where none did or
        watching ended, below 0 where papers tell); end_event (row of the event that ended it, -1 where watching ended).
    """
    stretches, events, fates = lives.stretches, lives.events, ages.fates
    rows = np.flatnonzero(ages.why_none == 0)
    begin, end = stretches.begin[rows], stretches.end[rows]
    ended = np.where(fates.ended[rows], end, -1)
    inferred = flags_of(events.told["position_inferred"])
    fault_on = events.told["fault_on"]
    return pl.DataFrame(
        {
            "stretch_id": rows + 1,
            "slot_no": stretches.slot[rows] + 1,
            "unit_no": stretches.unit_no[rows],
            "age_known": stretches.age_known[rows],
            "position_inferred": value_at(inferred, begin) | value_at(inferred, end),
            "event": fates.event[rows].astype(np.int32),
            "fit_step": stretches.fit_step[rows],
            "start_step": stretches.start_step[rows],
            "end_step": value_at(numbers_of(events.told["end_step"]), ended),
            "end_event": ended,
            "zero_on": dates(stretches.zero_on[rows]),
            "began_on": dates(stretches.began_on[rows]),
            "start_on": dates(stretches.start_on[rows]),
            "last_on": dates(fates.last_on[rows]),
            "lower_on": dates(fates.lower_on[rows]),
            "start_fault_on": fault_on.gather(or_null(begin)),
            "fit_fault_on": fault_on.gather(or_null(stretches.begin[stretches.unit[rows]])),
        }
    )


def unit_states(lives: Lives) -> pl.Series:
    """Return the state of each stretch's unit: fault found and left, after repair or running (rule 24)."""
    stretches, events = lives.stretches, lives.events
    unit, does = stretches.unit[stretches.current], events.flags("does")
    failed, left = np.zeros((2, stretches.slot.size), dtype=bool)
    failed[unit[events.flags("is_fault")]] = True
    # the last event of a unit at which it was looked at or worked on decides
    tells = does | (events.told["reads_as"] == "found at inspection").to_numpy()
    left[unit[tells]] = ~does[tells]
    return pl.Series(STATES).gather(np.where(left, 2, failed)[stretches.unit])


def ends_told(events: Events, ended: pl.Series, steps: Steps) -> pl.DataFrame:
    """Return what is told of the end of each spell.

    Parameters
    ----------
    events
        What happened at the positions.
    ended
        Row of the event that ended each, null where watching ended, shape ``(n,)``.
    steps
        The repairs by number.

    Returns
    -------
    DataFrame
        cause, reason_recorded (true where watching ended), end_record (null where watching ended or papers tell).
    """
    return pl.DataFrame(
        {
            "cause": events.told.select(cause_of_end()).to_series().gather(ended).fill_null(WATCHING_ENDED),
            "reason_recorded": events.told["reason_recorded"].gather(ended).fill_null(value=True),
            "end_record": steps.of("line_id", events.told["end_step"]).gather(ended),
        }
    )


def cause_of_end() -> pl.Expr:
    """Return what an event is called that ends a spell."""
    modified = pl.when("modifies").then(pl.lit("modified"))
    return modified.otherwise(pl.col("reads_as").replace(CAUSE)).alias("cause")
