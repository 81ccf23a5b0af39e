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

STEPS_PER_DOUBLING, SMALL = 64, 1 / 64
"""Values within a sixty-fourth of a doubling share a class, and so do all up to the small one: no sort is needed."""


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


def over_cells(values: Floats, weight: Floats) -> Floats:
    """Return the weighted sum over cells, the last axis; in one thread, so that groups can go side by side."""
    return np.asarray(np.einsum("...c,c->...", values, weight))


def cells_of(units: Units) -> Cells:
    """Return the units in cells of like age and use; a cell has the means of its units.

    Notes
    -----
    A unit without a law is not handed in. Classes go by rank, so that no cell is empty whatever the ages; ranks are
    counted in steps of a fraction of a doubling and not sorted for.
    """
    stratum = _numbered(units.law * 3 + units.kind)
    held = np.bincount(stratum)[stratum]
    even = _even(stratum, units.pace)
    paces = np.where(even, 1, PACE_CLASSES)
    joinings = np.where(units.kind == UNKNOWN, np.where(even, JOINING_CLASSES[1], JOINING_CLASSES[PACE_CLASSES]), 1)
    place = _classed(stratum, units.pace, paces)
    place = _classed(place, np.where(units.kind == UNKNOWN, units.joined, 0.0), joinings)
    place = _classed(place, units.age, np.where(even, EVEN_CELLS, CELLS) // (paces * joinings))
    alone = place.max(initial=0) + 1 + np.arange(place.size)
    of_unit = _numbered(np.where(held <= CELLS, alone, place))
    size = np.bincount(of_unit)
    one = np.empty(size.size, np.int64)
    one[of_unit] = np.arange(of_unit.size)

    def mean(values: Floats) -> Floats:
        return np.bincount(of_unit, weights=values, minlength=size.size) / size

    return Cells(of_unit, units.law[one], units.kind[one], mean(units.age), mean(units.joined), mean(units.pace))


def _even(stratum: Counts, pace: Floats) -> NDArray[np.bool_]:
    """Return of each unit whether all of its stratum have one pace."""
    of_one = np.zeros(stratum.max(initial=-1) + 1)
    of_one[stratum] = pace
    others = np.bincount(stratum, weights=pace != of_one[stratum])
    return np.asarray(others[stratum] == 0)


def _numbered(places: Counts) -> Counts:
    """Return places, 0 or more, numbered in their order without gaps."""
    return np.asarray((np.cumsum(np.bincount(places) > 0) - 1)[places])


def _classed(stratum: Counts, values: Floats, classes: Counts) -> Counts:
    """Return strata, numbered without gaps, split into at most so many classes of about equal size by the values."""
    if classes.max(initial=1) == 1:
        return stratum
    step = _steps(values)
    steps = int(step.max()) + 1
    place = stratum * steps + step
    units = np.bincount(place, minlength=(int(stratum.max()) + 1) * steps).reshape(-1, steps)
    before = np.cumsum(units, axis=1) - units
    rank = (before + units // 2).ravel()[place] * classes // units.sum(axis=1)[stratum]
    return _numbered(stratum * int(classes.max()) + rank)


def _steps(values: Floats) -> Counts:
    """Return the number of each value's step, 0 for all up to `SMALL`."""
    return np.asarray(np.log2(np.maximum(values, SMALL) / SMALL) * STEPS_PER_DOUBLING, dtype=np.int64)
