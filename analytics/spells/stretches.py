"""Stretches of units' lives: what began and what ended each, before any window (rules 9, 10, 19 to 21)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import days_of, numbers_of
from analytics.spells.gathering import value_at
from analytics.spells.marks import NO_DAY

if TYPE_CHECKING:
    from analytics.spells.events import Days, Events, Flags, Numbers, Windows

NOBODY, BUILT, PAPERS, ORDER = range(4)
TOLD_BY = ("nobody", "built", "papers", "order")
"""Who tells when a unit was fitted: nobody, the car (in care since new), its owner's papers, an order."""

WHY_UNFIT = (
    *("position too often blank", "car never seen here", "used part fitted, its age is not known", "joining fault"),
)
"""Why a stretch gives no spell whatever the window, by number from 1 on; the first that holds is told."""


@dataclass(frozen=True, slots=True)
class Stretches:
    """Stretches of units' lives in order of position and time; arrays of shape ``(stretches,)``.

    Attributes
    ----------
    slot, window
        Position and component of the car, 0, 1, 2.
    unit_no, stretch_no
        1, 2, 3 at its position, and of its unit; the next stretch begins with a modification (rule 9).
    unit
        Row of the first stretch of its unit.
    begin, end
        Row of the event that began and ended it, -1 where none did.
    told_by
        Who tells when the unit was fitted, a place in `TOLD_BY`.
    is_used
        Whether the unit was fitted as a used part (rule 19).
    began_on, zero_on, start_on
        Days since 1970-01-01: of its beginning; from which the unit's age counts (fitting, or joining where that is
        not known); from which it is watched. `NO_DAY` where not known.
    start_step, fit_step
        Number of the repair that began it, and that fitted the unit; below 0 where papers tell, 0 where none does.
    why_unfit
        0 where it may give a spell, else a number of `WHY_UNFIT`.
    current
        Row of the stretch into which each event falls, shape ``(events,)``.
    """

    slot: Numbers
    window: Numbers
    unit_no: Numbers
    stretch_no: Numbers
    unit: Numbers
    begin: Numbers
    end: Numbers
    told_by: Numbers
    is_used: Flags
    began_on: Days
    zero_on: Days
    start_on: Days
    start_step: Numbers
    fit_step: Numbers
    why_unfit: Numbers
    current: Numbers

    @property
    def age_known(self) -> Flags:
        """Whether the unit's age is known (rules 19, 20)."""
        known: Flags = (self.told_by != NOBODY) & ~self.is_used
        return known


@dataclass(frozen=True, slots=True)
class Lives:
    """Units' lives: the windows that cut them, what happened, and the stretches in between."""

    windows: Windows
    events: Events
    stretches: Stretches


def stretches_of(window: Numbers, windows: Windows, events: Events, papers: pl.DataFrame) -> Stretches:
    """Return every stretch of every unit that a position ever held.

    Parameters
    ----------
    window
        Component of the car of each position, 0, 1, 2, shape ``(slots,)``.
    windows
        The components of the cars.
    events
        What happened at the positions.
    papers
        Rows of ``fitting.sql``.
    """
    # each position holds a unit to begin with, and each beginning event adds a stretch after it
    current = events.slot + np.cumsum(events.begins) - events.begins
    begin = np.full(window.size + np.count_nonzero(events.begins), -1)
    end = begin.copy()
    begin[current[events.begins] + 1] = np.flatnonzero(events.begins)
    end[current[events.ends]] = np.flatnonzero(events.ends)
    of_slot = begin < 0
    slot = np.cumsum(of_slot) - 1
    new_unit = of_slot | value_at(events.flags("renews"), begin)
    rows = np.arange(begin.size)
    unit = np.maximum.accumulate(np.where(new_unit, rows, 0))
    units = np.cumsum(new_unit)
    told_by, began_on, start_step = _beginnings(window, windows, events, papers, begin)
    is_used = value_at(events.flags("is_used"), begin)[unit]
    stretches = Stretches(
        slot=slot,
        window=window[slot],
        unit_no=units - units[of_slot][slot] + 1,
        stretch_no=rows - unit + 1,
        unit=unit,
        begin=begin,
        end=end,
        told_by=told_by[unit],
        is_used=is_used,
        began_on=began_on,
        zero_on=began_on[unit],
        start_on=np.maximum(began_on, windows.joined_on[window[slot]]),
        start_step=start_step,
        fit_step=start_step[unit],
        why_unfit=np.zeros(begin.size, dtype=np.int64),
        current=current,
    )
    stretches.why_unfit[:] = _why_unfit(stretches, windows, events)
    return stretches


def _beginnings(
    window: Numbers, windows: Windows, events: Events, papers: pl.DataFrame, begin: Numbers
) -> tuple[Numbers, Days, Numbers]:
    """Return who tells of the beginning of each stretch, its day, and the number of the repair or paper (rule 20)."""
    joined, built = windows.joined_on[window], windows.built_on[window]
    since_new = windows.since_new[window]
    first_on = np.where(since_new & (built != NO_DAY), np.minimum(built, joined), joined)
    first_by = np.where(since_new, BUILT, NOBODY)
    first_step = np.zeros(window.size, dtype=np.int64)
    last = _last_papers(papers)
    at = numbers_of(last["slot_no"]) - 1
    first_on[at], first_by[at], first_step[at] = days_of(last["fitted_on"]), PAPERS, numbers_of(last["step_no"])
    of_slot = begin < 0
    told_by = value_at(np.where(events.flags("from_papers"), PAPERS, ORDER), begin)
    began_on = value_at(events.days("closed_on"), begin, NO_DAY)
    start_step = value_at(numbers_of(events.told["start_step"]), begin)
    told_by[of_slot], began_on[of_slot], start_step[of_slot] = first_by, first_on, first_step
    return told_by, began_on, start_step


def _last_papers(papers: pl.DataFrame) -> pl.DataFrame:
    """Return the last fitting before the car joined that papers tell of each position."""
    before = papers.filter((pl.col("fate") == "used") & (pl.col("fitted_on") <= pl.col("joined_on")))
    latest = before.sort("fitted_on", "part_no", descending=[True, False], nulls_last=True, maintain_order=True)
    return latest.unique("slot_no", keep="first", maintain_order=True)


def _why_unfit(stretches: Stretches, windows: Windows, events: Events) -> Numbers:
    """Return why each gives no spell whatever the window, 0 where it may."""
    joiner = events.flags("is_fault") & events.flags("joining") & ~events.flags("answered")
    met = np.zeros(stretches.slot.size, dtype=bool)
    met[stretches.unit[stretches.current[joiner]]] = True
    holds = (
        windows.whole_car[stretches.window],
        windows.joined_on[stretches.window] == NO_DAY,
        stretches.is_used,
        # unless we had fitted that unit ourselves (rule 21)
        met[stretches.unit] & (stretches.told_by != ORDER),
    )
    return np.select(holds, range(1, len(holds) + 1), default=0)
