"""Who was watched and who failed at each failure time, for all groups in one pass."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.running import place_in_group

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.spells_in import Spells

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
    row_time
        Shape ``(n,)``, for each spell the number of failure times of all groups up to and including its exit, less one:
        the row that its failure falls into, or the last one before it ended.
    row_entry
        Shape ``(n,)``, the same for its entry.
    """

    group: NDArray[np.int64]
    place: NDArray[np.int64]
    time: NDArray[np.int64] | NDArray[np.float64]
    at_risk: NDArray[np.int64]
    events: NDArray[np.int64]
    row_time: NDArray[np.int64]
    row_entry: NDArray[np.int64]


def _keys(spells: Spells) -> tuple[NDArray[np.int64], NDArray[np.int64], int]:
    """Give every entry and exit an integer that sorts by group and then time, ties kept exactly; all below the last."""
    rank, span = _ranks(spells)
    cells = spells.groups * span
    offset = spells.group * span
    entry, leave = (each + offset for each in rank)
    if cells <= CELLS_PER_SPELL * spells.entry.size:
        return entry, leave, cells
    distinct, packed = np.unique(np.concatenate([entry, leave]), return_inverse=True)
    return packed[: entry.size], packed[entry.size :], distinct.size


def _ranks(spells: Spells) -> tuple[tuple[NDArray[np.int64], NDArray[np.int64]], int]:
    """Give every entry and exit an integer that sorts by time, below the last."""
    size = spells.entry.size
    if size and np.issubdtype(spells.entry.dtype, np.integer):
        # every exit is after its entry
        least, most = int(spells.entry.min()), int(spells.exit.max())
        if (most - least + 1) * max(spells.groups, 1) < LARGEST_KEY:
            entry, leave = (each.astype(np.int64, copy=False) - least for each in (spells.entry, spells.exit))
            return (entry, leave), most - least + 1
    distinct, rank = np.unique(np.concatenate([spells.entry, spells.exit]), return_inverse=True)
    return (rank[:size], rank[size:]), max(distinct.size, 1)


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
    entry, leave, cells = _keys(spells)
    rows = np.flatnonzero(spells.event > 0)
    fails = np.zeros(cells, dtype=np.bool_)
    fails[leave[rows]] = True
    # failure times of all groups up to and including each key; the narrow integers keep the table in the cache
    passed = np.cumsum(fails, dtype=np.int32 if rows.size < LARGEST_NARROW else np.int64)
    row_time, row_entry = (np.subtract(passed[key], 1, dtype=np.int64) for key in (leave, entry))
    times = int(passed[-1]) if cells else 0
    example = np.empty(times, dtype=np.int64)
    example[row_time[rows]] = rows  # any spell that failed then: all have the same group and time
    counts = np.bincount(row_time[rows], weights=spells.event[rows], minlength=times)
    # who enters or leaves from a failure time until before the next one changes the count at the next one;
    # everyone of an earlier group has come and gone
    come = np.bincount(row_entry + 1, minlength=times + 1)
    gone = np.bincount(row_time + 1, minlength=times + 1)
    group = spells.group[example]
    return RiskSet(
        group=group,
        place=place_in_group(group),
        time=spells.exit[example],
        at_risk=np.cumsum(come - gone)[:times],
        events=counts.astype(np.int64),
        row_time=row_time,
        row_entry=row_entry,
    )
