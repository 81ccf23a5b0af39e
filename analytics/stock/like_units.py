"""Units of like age are reckoned together, so that a large fleet costs no more than a small one."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators import fails_within

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

KNOWN, UNKNOWN, EQUILIBRIUM = 0, 1, 2
"""What is known of a unit's age: all; that it was in a car of some age when the car joined; nothing."""

CELLS = 64
"""Cells of one law and kind; where there are no more units than this, each is a cell of its own."""

PACE_CLASSES = 4
"""Classes of use a day, where units differ in it."""

EVEN_CELLS = 32
"""Cells of one law and kind where all units have one use a day."""

JOINING_CLASSES = {1: 8, PACE_CLASSES: 4}
"""Classes of the car's age at joining, by those of use; what is left of the cells tells ages apart."""

RANGE = 1e-6, 1e9
"""Ages, paces and lives are reckoned within these, on either scale."""


@dataclass(frozen=True, slots=True)
class Units:
    """Units in place on a day; all of shape ``(units,)``.

    Attributes
    ----------
    car
        Row of the car.
    law
        Row of the law; -1 = none.
    kind
        `KNOWN`, `UNKNOWN` or `EQUILIBRIUM`.
    age
        Since fitting, or since it was first seen, on the law's scale (days or km).
    joined
        Age of the car when the unit was first seen, on the law's scale; infinite where not known, 0 for known ages.
    pace
        Days of age, or km, a day.
    """

    car: Counts
    law: Counts
    kind: Counts
    age: Floats
    joined: Floats
    pace: Floats

    def only(self, rows: Counts | NDArray[np.bool_]) -> Units:
        """Return some of the units."""
        return Units(
            self.car[rows], self.law[rows], self.kind[rows], self.age[rows], self.joined[rows], self.pace[rows]
        )


@dataclass(frozen=True, slots=True)
class Cells:
    """Units of like age; all but `of_unit` of shape ``(cells,)``, as in `Units`."""

    of_unit: Counts
    law: Counts
    kind: Counts
    age: Floats
    joined: Floats
    pace: Floats

    def summed(self, per_unit: Floats) -> Floats:
        """Return the sum over the units of each cell."""
        return np.bincount(self.of_unit, weights=per_unit, minlength=self.law.size).astype(np.float64)

    def chances(self, shape: Floats, life: Floats, days: Floats) -> tuple[Floats, Floats]:
        """Return the chance that a unit fails within so many days, and that its successor then fails as well.

        Parameters
        ----------
        shape, life
            Weibull law of each cell, ``(draws, cells)``; life on the law's scale.
        days
            Horizons, broadcast against ``(horizons, draws, 1)``.

        Returns
        -------
        tuple of NDArray
            Both ``(horizons, draws, cells)``. The successor is given half of the horizon (rule 38).
        """
        horizon = np.broadcast_to(days * self.pace, (days.shape[0], *shape.shape))
        first = np.empty(horizon.shape)
        known = self.kind == KNOWN
        for rows, joined in ((known, None), (~known, self.joined[~known])):
            if rows.any():
                law = shape[:, rows], life[:, rows], self.age[rows]
                first[..., rows] = fails_within(*law, horizon[..., rows], joined)
        return first, self._successors(shape, life, horizon / 2)

    def _successors(self, shape: Floats, life: Floats, horizon: Floats) -> Floats:
        """Return the chance that a new unit fails, reckoned once for the cells of one law and pace."""
        like = np.stack((self.law.astype(np.float64), self.pace), axis=1)
        one, of_cell = np.unique(like, axis=0, return_index=True, return_inverse=True)[1:]
        new = fails_within(shape[:, one], life[:, one], 0.0, horizon[..., one])
        return np.asarray(new[..., of_cell.reshape(-1)])


def cells_of(units: Units) -> Cells:
    """Return the units in cells of like age and use; a cell has the means of its units.

    Notes
    -----
    A unit without a law is not handed in. Classes go by rank, so that no cell is empty whatever the ages.
    """
    stratum = units.law * 3 + units.kind
    even = _even(stratum, units.pace)
    paces = np.where(even, 1, PACE_CLASSES)
    joinings = np.where(units.kind == UNKNOWN, np.where(even, JOINING_CLASSES[1], JOINING_CLASSES[PACE_CLASSES]), 1)
    place, held = _ranked(stratum, units.pace, paces)
    place = _ranked(place, units.joined, joinings)[0]
    place = _ranked(place, units.age, np.where(even, EVEN_CELLS, CELLS) // (paces * joinings))[0]
    alone = place.max(initial=0) + 1 + np.arange(place.size)
    first, of_unit = np.unique(np.where(held <= CELLS, alone, place), return_index=True, return_inverse=True)[1:]
    size = np.bincount(of_unit, minlength=first.size)

    def mean(values: Floats) -> Floats:
        return np.bincount(of_unit, weights=values, minlength=first.size) / np.maximum(size, 1)

    return Cells(of_unit, units.law[first], units.kind[first], mean(units.age), mean(units.joined), mean(units.pace))


def _even(stratum: Counts, pace: Floats) -> NDArray[np.bool_]:
    """Return of each unit whether all of its stratum have one pace."""
    which = np.unique(stratum, return_inverse=True)[1]
    low, high = np.full(stratum.size, np.inf), np.full(stratum.size, -np.inf)
    np.minimum.at(low, which, pace)
    np.maximum.at(high, which, pace)
    return np.asarray((low == high)[which])


def _ranked(stratum: Counts, values: Floats, classes: Counts) -> tuple[Counts, Counts]:
    """Return strata split into so many classes of equal size by rank of the values, and the size of each stratum."""
    if stratum.size == 0:
        return stratum, stratum
    if classes.max() == 1:  # nothing to tell apart
        which, size = np.unique(stratum, return_inverse=True, return_counts=True)[1:]
        return stratum * (CELLS + 1), size[which]
    order = np.lexsort((values, stratum))
    begin = np.flatnonzero(np.diff(stratum[order], prepend=-1))
    size = np.diff(begin, append=stratum.size)
    rank, held = np.empty(stratum.size, np.int64), np.empty(stratum.size, np.int64)
    rank[order] = np.arange(stratum.size) - np.repeat(begin, size)
    held[order] = np.repeat(size, size)
    return stratum * (CELLS + 1) + rank * classes // held, held
