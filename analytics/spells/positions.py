"""Which unit a line without position concerns, and which units a pair renews in passing (rules 16, 17)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

NEVER = np.iinfo(np.int64).min
"""Day of renewal of a unit that nobody saw renewed: it counts as the oldest."""
_NO_SUCH = np.iinfo(np.int64).max


@dataclass(frozen=True)
class UnitEvents:
    """Events at the positions of one component of one car each, in order of group and time.

    Attributes
    ----------
    group
        Car and component, 0, 1, 2, ascending, shape ``(k,)``.
    order
        Order within the group, ascending with time, shape ``(k,)``.
    position
        Position, 0, 1, 2; -1 where it must be filled in; blank events come last within an order, shape ``(k,)``.
    positions
        How many positions the group has, the same for all its events, shape ``(k,)``.
    renews
        Whether the event renews its unit, shape ``(k,)``.
    units
        How many units it renews, at least 1, shape ``(k,)``.
    day
        Day of the renewal, shape ``(k,)``.
    fits
        Whether the part fits the position, shape ``(k, p)``, p the largest number of positions.
    """

    group: NDArray[np.int64]
    order: NDArray[np.int64]
    position: NDArray[np.int64]
    positions: NDArray[np.int64]
    renews: NDArray[np.bool_]
    units: NDArray[np.int64]
    day: NDArray[np.int64]
    fits: NDArray[np.bool_]


@dataclass(frozen=True)
class FilledPositions:
    """Positions per event.

    Attributes
    ----------
    position
        Named or filled in, shape ``(k,)``.
    passing
        Whether the event renews the unit at the position in passing, shape ``(k, p)``.
    """

    position: NDArray[np.int64]
    passing: NDArray[np.bool_]


def fill_positions(events: UnitEvents) -> FilledPositions:
    """Answer which unit each event without position concerns, and which it renews in passing.

    A blank event goes to the unit of longest time since renewal, a unit never seen renewed being the oldest and
    ties going to the first position. An event that renews n units renews the next n - 1 oldest in passing, but
    none that a line of the same order renews by name. Only positions the part fits are considered, or all of
    them where it fits none of the car's.

    Parameters
    ----------
    events
        Events in order of group and time, k of them, at most p positions per group.

    Returns
    -------
    FilledPositions
        Positions and units renewed in passing, in the order of the events.

    Notes
    -----
    Groups do not touch each other, so the first event of all groups is treated in one step, then the second of
    all groups, and so on: as many steps as the busiest group has events.
    """
    count, width = events.fits.shape
    position = events.position.copy()
    passing = np.zeros((count, width), dtype=bool)
    if count == 0:
        return FilledPositions(position, passing)
    exists = np.arange(width) < events.positions[:, None]
    fits = events.fits & exists
    fits[~fits.any(axis=1)] = exists[~fits.any(axis=1)]
    named = _named_in_order(events, width)
    renewed = np.full((int(events.group.max()) + 1, width), NEVER, dtype=np.int64)
    for rows in _rounds(events.group):
        group = events.group[rows]
        age_order = np.argsort(np.where(fits[rows], renewed[group], _NO_SUCH), axis=1, kind="stable")
        position[rows] = np.where(position[rows] < 0, age_order[:, 0], position[rows])
        renews = events.renews[rows]
        now = rows[renews]
        if now.size == 0:
            continue
        passing[now] = _in_passing(age_order[renews], fits[now], named[now], position[now], events.units[now])
        touched = passing[now].copy()
        touched[np.arange(now.size), position[now]] = True
        renewed[group[renews]] = np.where(touched, events.day[now][:, None], renewed[group[renews]])
    return FilledPositions(position, passing)


def _rounds(group: NDArray[np.int64]) -> list[NDArray[np.int64]]:
    """Return the rows of every group's first event, then of the second, and so on."""
    starts = np.flatnonzero(np.r_[True, group[1:] != group[:-1]])
    rank = np.arange(group.size) - np.repeat(starts, np.diff(np.r_[starts, group.size]))
    by_rank = np.argsort(rank, kind="stable")
    return np.split(by_rank, np.flatnonzero(np.diff(rank[by_rank])) + 1)


def _named_in_order(events: UnitEvents, width: int) -> NDArray[np.bool_]:
    """Return, per event, the positions that lines of its order renew by name, shape ``(k, p)``."""
    _, order = np.unique(events.order, return_inverse=True)
    by_order = np.zeros((int(order.max()) + 1, width), dtype=bool)
    rows = events.renews & (events.position >= 0)
    by_order[order[rows], events.position[rows]] = True
    return by_order[order]


def _in_passing(
    age_order: NDArray[np.int64],
    fits: NDArray[np.bool_],
    named: NDArray[np.bool_],
    position: NDArray[np.int64],
    units: NDArray[np.int64],
) -> NDArray[np.bool_]:
    """Return the ``units - 1`` oldest fitting positions besides `position` and the named ones, shape ``(k, p)``."""
    free = fits & ~named
    free[np.arange(position.size), position] = False
    free_oldest_first = np.take_along_axis(free, age_order, axis=1)
    chosen = free_oldest_first & (np.cumsum(free_oldest_first, axis=1) < units[:, None])
    passing = np.zeros_like(fits)
    np.put_along_axis(passing, age_order, chosen, axis=1)
    return passing
