"""Who was watched and who failed at each failure time, for all groups in one pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.spells_in import Spells

    Ints = NDArray[np.int64]
    Counts = NDArray[np.int32] | NDArray[np.int64]

LARGEST_KEY = 2**62
"""Keys stay below this, so that group and time fit into one 64-bit integer."""

LARGEST_NARROW = 2**31
"""Counts below this fit into 32 bits."""

CELLS_PER_SPELL = 16
"""A table with more cells than this per spell is mostly empty: keys are then packed into their ranks first."""


@dataclass(frozen=True, slots=True)
class RiskSet:
    """Counts at the ``k`` distinct failure times, rows of one group side by side, times rising.

    Attributes
    ----------
    group, place
        Shape ``(k,)``, the group and 0, 1, 2... inside it.
    time
        Shape ``(k,)``, in the unit of the spells.
    at_risk, events
        Shape ``(k,)``, spells with ``entry < time <= exit``, failures at `time`.
    rows
        Shape ``(groups,)``, the number of failure times of each group.
    passed_by_exit, passed_by_entry
        Shape ``(n,)``, for each spell the number of failure times of all groups up to and including its exit or entry.
    gone
        Shape ``(k + 1,)``, spells that ended before the first failure time, then from each until before the next one;
        those that end in a group before its first failure count to the group before.
    """

    group: Ints
    place: Ints
    time: Ints | NDArray[np.float64]
    at_risk: Ints
    events: Ints
    rows: Ints
    passed_by_exit: Counts
    passed_by_entry: Counts
    gone: Ints

    @property
    def row_time(self) -> Ints:
        """Return for each spell the row that its failure falls into, or the last one before it ended, ``(n,)``."""
        return self.passed_by_exit.astype(np.int64) - 1

    @property
    def row_entry(self) -> Ints:
        """Return for each spell the last row up to its entry, -1 before all, ``(n,)``."""
        return self.passed_by_entry.astype(np.int64) - 1


@dataclass(frozen=True, slots=True)
class _Keys:
    """Integers from 1 that sort by group and then time, ties kept exactly.

    Attributes
    ----------
    entry, leave
        Shape ``(n,)``.
    through
        Shape ``(groups,)``, the highest key that a group may have.
    most
        The highest of all, 0 without a spell.
    """

    entry: Ints
    leave: Ints
    through: Ints
    most: int


def _keys(spells: Spells) -> _Keys:
    entry, leave, least, span = _ranks(spells)
    through = np.arange(1, spells.groups + 1) * span
    offset = (through - (span + least - 1)).take(spells.group)
    entry, leave = entry + offset, leave + offset
    most = spells.groups * span
    if most <= CELLS_PER_SPELL * entry.size:
        return _Keys(entry, leave, through, most)
    distinct, packed = np.unique(np.concatenate([entry, leave]), return_inverse=True)
    packed += 1
    through = np.searchsorted(distinct, through, side="right")
    return _Keys(packed[: entry.size], packed[entry.size :], through, distinct.size)


def _ranks(spells: Spells) -> tuple[Ints, Ints, int, int]:
    """Give every entry and exit an integer that sorts by time; with the least of them and how far they reach."""
    entry, leave = spells.entry, spells.exit
    if entry.size and np.issubdtype(entry.dtype, np.integer):
        # every exit is after its entry
        least = int(entry.min())
        span = int(leave.max()) - least + 1
        if span * max(spells.groups, 1) < LARGEST_KEY:
            return entry.astype(np.int64, copy=False), leave.astype(np.int64, copy=False), least, span
    distinct, rank = np.unique(np.concatenate([entry, leave]), return_inverse=True)
    return rank[: entry.size], rank[entry.size :], 0, max(distinct.size, 1)


def risk_set(spells: Spells) -> RiskSet:
    """Count spells at risk and failures at every distinct failure time of every group.

    Parameters
    ----------
    spells
        Checked spells.

    Returns
    -------
    RiskSet
        Sorted by group and time; groups without a failure have no row.

    Notes
    -----
    Intervals are ``(entry, exit]``: a unit that enters at a time is not at risk at that time. A table over keys that
    hold group and time tells how many failure times have passed by then, so that nothing is sorted or searched for.

    Examples
    --------
    >>> import polars as pl
    >>> from analytics.estimators.spells_in import spells_in
    >>> frame = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [2, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> risk_set(spells_in(frame)).at_risk.tolist()
    [3, 2, 1]
    """
    key = _keys(spells)
    rows = np.flatnonzero(spells.event > 0)
    fails = np.zeros(key.most + 1, dtype=np.bool_)
    fails[key.leave.take(rows)] = True
    # failure times of all groups up to and including each key; the narrow integers keep the table in the cache
    few = rows.size < LARGEST_NARROW
    passed: Counts = np.cumsum(fails, dtype=np.int32) if few else np.cumsum(fails, dtype=np.int64)
    times = int(passed[-1])
    by_exit, by_entry = passed.take(key.leave), passed.take(key.entry)
    at = by_exit.take(rows)
    time = np.empty_like(spells.exit, shape=times + 1)
    time[at] = spells.exit.take(rows)
    # who enters or leaves from a failure time until before the next one changes the count at the next one;
    # everyone of an earlier group has come and gone
    gone = np.bincount(by_exit, minlength=times + 1)
    at_risk = np.bincount(by_entry, minlength=times + 1)
    at_risk -= gone
    np.cumsum(at_risk, out=at_risk)
    of_group = np.diff(passed.take(key.through), prepend=0).astype(np.int64)
    before = np.cumsum(of_group) - of_group
    return RiskSet(
        group=np.repeat(np.arange(spells.groups), of_group),
        place=np.arange(times) - np.repeat(before, of_group),
        time=time[1:],
        at_risk=at_risk[:times],
        events=_counted(at, spells.event, rows, times),
        rows=of_group,
        passed_by_exit=by_exit,
        passed_by_entry=by_entry,
        gone=gone,
    )


def _counted(at: Counts, event: Ints, rows: Ints, times: int) -> Ints:
    """Return the failures at each failure time, from the number of times up to and including that of each spell."""
    weights = event.take(rows) if event.max(initial=0) > 1 else None
    return np.bincount(at, weights, minlength=times + 1)[1:].astype(np.int64, copy=False)
