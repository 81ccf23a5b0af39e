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


@dataclass(frozen=True, slots=True)
class Keys:
    """Entries and exits as one integer each, sorted by group and then time.

    Attributes
    ----------
    entry, exit
        Shape ``(n,)``, in the order of the spells.
    entry_sorted, exit_sorted
        The same, sorted.
    span
        A key is ``group * span + rank of the time``.
    """

    entry: NDArray[np.int64]
    exit: NDArray[np.int64]
    entry_sorted: NDArray[np.int64]
    exit_sorted: NDArray[np.int64]
    span: int

    def at_risk(self, key: NDArray[np.int64]) -> NDArray[np.int64]:
        """Count spells of the key's group with ``entry < time <= exit``; earlier groups cancel out."""
        entered = np.searchsorted(self.entry_sorted, key, side="left")
        left = np.searchsorted(self.exit_sorted, key, side="left")
        return (entered - left).astype(np.int64)


def time_keys(spells: Spells) -> Keys:
    """Give every entry and exit an integer that sorts by group and then time, ties kept exactly."""
    both = np.concatenate([spells.entry, spells.exit])
    rank, span = _ranks(both, spells.groups)
    offset = spells.group * span
    entry, leave = rank[: spells.entry.size] + offset, rank[spells.entry.size :] + offset
    return Keys(entry, leave, np.sort(entry), np.sort(leave), span)


def _ranks(values: NDArray[np.int64] | NDArray[np.float64], groups: int) -> tuple[NDArray[np.int64], int]:
    if values.size and np.issubdtype(values.dtype, np.integer):
        least, most = int(values.min()), int(values.max())
        if (most - least + 1) * max(groups, 1) < LARGEST_KEY:
            return values.astype(np.int64) - least, most - least + 1
    distinct, rank = np.unique(values, return_inverse=True)
    return rank.astype(np.int64), max(distinct.size, 1)


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
    Intervals are ``(entry, exit]``: a unit that enters at a time is not at risk at that time. Two sorts and two binary
    searches over keys that hold group and time serve all groups together.

    Examples
    --------
    >>> import polars as pl
    >>> from analytics.estimators.spells_in import spells_in
    >>> frame = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [2, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> risk_set(spells_in(frame)).at_risk.tolist()
    [3, 2, 1]
    """
    keys = time_keys(spells)
    failed = spells.event > 0
    moments, first = np.unique(keys.exit[failed], return_index=True)
    row_time = np.searchsorted(moments, keys.exit, side="right") - 1
    row_entry = np.searchsorted(moments, keys.entry, side="right") - 1
    counts = np.bincount(row_time[failed], weights=spells.event[failed], minlength=moments.size)
    group = spells.group[failed][first]
    return RiskSet(
        group=group,
        place=place_in_group(group),
        time=spells.exit[failed][first],
        at_risk=keys.at_risk(moments),
        events=counts.astype(np.int64),
        row_time=row_time.astype(np.int64),
        row_entry=row_entry.astype(np.int64),
    )
