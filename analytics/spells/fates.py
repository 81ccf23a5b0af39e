"""What became of each stretch within the window of its component, by choice of its end (rules 21, 23, 26, 31)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.marks import NO_DAY
from analytics.spells.stretches import ORDER, WHY_UNFIT

if TYPE_CHECKING:
    from analytics.spells.events import Days, Events, Flags, Numbers
    from analytics.spells.stretches import Lives

WHY_NONE = (
    *WHY_UNFIT,
    *("no neutral visit", "ended before the car was watched", "fitted after the last neutral visit"),
    *("no neutral visit after the car joined", "no time watched"),
)
"""Why a stretch gives no spell, by number from 1 on."""

NO_TIME = len(WHY_NONE)


@dataclass(frozen=True, slots=True)
class Fates:
    """What became of each stretch if watching ends on a choice of days; arrays of shape ``(stretches,)``.

    Attributes
    ----------
    last_on
        Watched to here; days since 1970-01-01, `NO_DAY` where watching never ends.
    ended
        Whether the record that ended it lies within the window.
    event
        Whether it failed.
    lower_on
        Of a fault found at inspection: last seen to be good, else the start; else `NO_DAY`.
    has_spell
        Whether it was watched for some time.
    """

    last_on: Days
    ended: Flags
    event: Flags
    lower_on: Days
    has_spell: Flags


def silent_ends(lives: Lives) -> pl.DataFrame:
    """Return the stretches that ended in a fault found at inspection: stretch_id, slot_no, start_on, end_fault_on."""
    stretches, events = lives.stretches, lives.events
    silent = _reads(events, "found at inspection")
    rows = np.flatnonzero(stretches.end >= 0)
    rows = rows[silent[stretches.end[rows]]]
    return pl.DataFrame(
        {
            "stretch_id": (rows + 1).astype(np.int32),
            "slot_no": (stretches.slot[rows] + 1).astype(np.int32),
            "start_on": dates(stretches.start_on[rows]),
            "end_fault_on": events.told["fault_on"].gather(stretches.end[rows]),
        }
    )


def fates_of(lives: Lives, good_on: Days, ending: int) -> Fates:
    """Return what became of the stretches.

    Parameters
    ----------
    lives
        Units' lives.
    good_on
        Day on which a silent fault was last seen not to be there, `NO_DAY` where never, shape ``(stretches,)``.
    ending
        Choice of the end of watching, a row of ``windows.end_on``.
    """
    stretches, windows, events = lives.stretches, lives.windows, lives.events
    last_on = windows.end_on[ending][stretches.window]
    ended, event = np.zeros((2, last_on.size), dtype=bool)
    lower_on = np.full(last_on.size, NO_DAY, dtype=np.int32)
    rows = np.flatnonzero(stretches.end >= 0)
    by = stretches.end[rows]
    within = (events.days("visit_day")[by] <= last_on[rows]) & (last_on[rows] != NO_DAY)
    rows, by = rows[within], by[within]
    ended[rows] = True
    last_on[rows] = events.days("fault_on")[by]
    silent = _reads(events, "found at inspection")[by]
    event[rows] = silent | _reads(events, "failure")[by]
    # nobody knows when a silent fault began
    found = rows[silent]
    lower_on[found] = np.where(good_on[found] != NO_DAY, good_on[found], stretches.start_on[found])
    start_on = stretches.start_on
    watched = (last_on != NO_DAY) & ((last_on > start_on) | ((last_on == start_on) & event))
    return Fates(last_on, ended, event, lower_on, (stretches.why_unfit == 0) & watched)


def why_none(lives: Lives, fates: Fates) -> Numbers:
    """Return why each stretch gives no spell, a number of `WHY_NONE`; 0 where it gives one.

    Parameters
    ----------
    lives
        Units' lives.
    fates
        What became of them if watching ends on the last neutral visit.
    """
    stretches, windows = lives.stretches, lives.windows
    without = np.flatnonzero(~fates.has_spell & (stretches.why_unfit == 0))
    before = fates.last_on[without] < stretches.start_on[without]
    reasons = np.select(
        [
            windows.end_on[0][stretches.window[without]] == NO_DAY,
            fates.ended[without] & before,
            (stretches.told_by[without] == ORDER) & before,
            before,
        ],
        np.arange(4) + len(WHY_UNFIT) + 1,
        default=NO_TIME,
    )
    why = stretches.why_unfit.copy()
    why[without] = reasons
    return why


def watched_until(lives: Lives, fates: Fates, rows: Numbers, ending: int) -> pl.DataFrame:
    """Return the rows of the table ``stretch_fate``, from which long stays in the workshop are taken out (rule 25).

    Parameters
    ----------
    lives, fates
        Units' lives and what became of them.
    rows
        The stretches asked for, shape ``(n,)``.
    ending
        Choice of the end of watching.
    """
    stretches, windows = lives.stretches, lives.windows
    return pl.DataFrame(
        {
            "ending": np.full(rows.size, ending, dtype=np.int32),
            "stretch_id": (rows + 1).astype(np.int32),
            "slot_no": (stretches.slot[rows] + 1).astype(np.int32),
            "zero_on": dates(stretches.zero_on[rows]),
            "built_on": dates(windows.built_on[stretches.window[rows]]),
            "start_on": dates(stretches.start_on[rows]),
            "last_on": dates(fates.last_on[rows]),
            "event": fates.event[rows].astype(np.int32),
            "lower_on": dates(fates.lower_on[rows]),
        }
    )


def whole_pieces(lives: Lives, fates: Fates, rows: Numbers, ending: int) -> pl.DataFrame:
    """Return the spells by age that no long stay cuts, as ``age_spell.sql`` returns those that one does.

    Parameters
    ----------
    lives, fates
        Units' lives and what became of them.
    rows
        Stretches with a spell, shape ``(n,)``.
    ending
        Choice of the end of watching.
    """
    stretches, windows = lives.stretches, lives.windows
    zero_on, start_on, event = stretches.zero_on[rows], stretches.start_on[rows], fates.event[rows]
    entry = start_on - zero_on
    lasted = fates.last_on[rows] - zero_on
    # a unit that failed on its day of fitting lasted a day (rule 31)
    leaves = np.where(event, np.maximum(lasted, entry + 1), lasted)
    lower_on, built_on = fates.lower_on[rows], windows.built_on[stretches.window[rows]]
    lower = np.minimum(np.maximum(lower_on - zero_on, entry), leaves - 1)
    return pl.DataFrame(
        {
            "ending": np.full(rows.size, ending, dtype=np.int32),
            "stretch_id": (rows + 1).astype(np.int32),
            "entry": entry,
            "exit": leaves,
            "exit_lower": known(lower, lower_on != NO_DAY),
            "event": event.astype(np.int32),
            "vehicle_age": known(start_on - built_on, built_on != NO_DAY),
            "is_last": np.ones(rows.size, dtype=bool),
        }
    )


def known(values: Days, told: Flags) -> pl.Series:
    """Return values, null where they are not told."""
    if told.all():
        return pl.Series(values)
    return pl.select(pl.when(pl.Series(told)).then(pl.Series(values))).to_series()


def dates(days: Days) -> pl.Series:
    """Return days since 1970-01-01 as dates, null for `NO_DAY`."""
    return known(days, days != NO_DAY).cast(pl.Date)


def _reads(events: Events, reason: str) -> Flags:
    reads: Flags = (events.told["reads_as"] == reason).to_numpy()
    return reads
