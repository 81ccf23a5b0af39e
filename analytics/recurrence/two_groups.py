"""Two groups of cars, or two sides of the same cars: how far apart they lie if one fails so many times as often."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]

LEAST = 1e-12


@dataclass(frozen=True, slots=True)
class Sides:
    """Failures on either side of the same cars, watched for as long.

    Attributes
    ----------
    first, second
        Failures of each car, ``(n,)``.
    """

    first: Floats
    second: Floats

    @property
    def counts(self) -> tuple[float, float]:
        """Failures of the first and of the second."""
        return float(self.first.sum()), float(self.second.sum())

    def off(self, ratio: float) -> float:
        """Return how many failures more the second has than it would, if it failed `ratio` times as often."""
        a, b = self.counts
        return b - ratio / (1 + ratio) * (a + b)

    def apart(self, ratios: Floats) -> Floats:
        """Return `off` at each of the ratios ``(k,)`` in standard deviations, cars taken whole, ``(k,)``.

        Examples
        --------
        >>> Sides(np.array([1.0, 0, 2, 1]), np.array([2.0, 1, 3, 2])).apart(np.array([1.0, 2.0])).round(3).tolist()
        [1.155, 0.0]
        """
        share = ratios / (1 + ratios)
        value = self.second - share[:, None] * (self.first + self.second)
        total = value.sum(axis=1)
        return np.asarray(total / np.sqrt(self._variance(total, np.sum(value**2, axis=1), share)), dtype=np.float64)

    def swapped(self, draws: int, rng: np.random.Generator) -> Floats:
        """Return how far apart the sides lie where those of each car are swapped at random, ``(draws,)``."""
        value = (self.second - self.first) / 2
        unlike = value[value != 0]
        signs = rng.integers(0, 2, size=(draws, unlike.size), dtype=np.int8) * 2.0 - 1.0
        total = signs @ unlike
        half = np.array([0.5])
        return np.asarray(total / np.sqrt(self._variance(total, np.sum(value**2), half)), dtype=np.float64)

    def _variance(self, total: Floats, squares: Floats | float, share: Floats) -> Floats:
        """Return the variance of the sum of the cars, at least that of independent failures."""
        cars = self.first.size
        spread = (squares - total**2 / cars) * cars / max(cars - 1, 1)
        return np.maximum(spread, np.maximum(share * (1 - share) * sum(self.counts), LEAST))


@dataclass(frozen=True, slots=True)
class Groups:
    r"""Two groups of cars, compared at one age and among those that joined at like ages.

    Attributes
    ----------
    own
        Failures of each car at ages at which cars of both groups were watched, ``(n,)``; the cars of a stratum, those
        of like age on joining, stand together.
    second
        Whether a car is of the second group.
    starts
        Where each stratum begins, ``(strata,)``.
    low, high
        The ages of failure, in order, that lie within each car's window: from `low` to before `high`.
    events, a, b
        Failures at each age, and cars of either group watched then, of the same stratum.

    Notes
    -----
    If the second fails :math:`\rho` times as often, a car is expected to have the sum over the ages of failure in its
    window of :math:`d / (Y_a + \rho Y_b)`, times :math:`\rho` in the second group. What the cars of the second have
    above that is the score of a proportional-rates model with a stratum for each band of age on joining; it is 0 at the
    ratio told.

    References
    ----------
    .. [1] Lin, Wei, Yang and Ying (2000), Journal of the Royal Statistical Society B 62(4), 711-730: semiparametric
       regression for the mean and rate functions of recurrent events; from memory.
    """

    own: Floats
    second: Mask
    starts: Ints
    low: Ints
    high: Ints
    events: Floats
    a: Floats
    b: Floats

    @property
    def counts(self) -> tuple[float, float]:
        """Failures of the first and of the second, at ages at which both were watched."""
        return float(self.own[~self.second].sum()), float(self.own[self.second].sum())

    def values(self, ratios: Floats) -> Floats:
        """Return failures less those expected of each car at each of the ratios ``(k,)``: ``(k, n)``.

        They add up to 0 in each stratum.
        """
        passed = np.zeros((ratios.size, self.events.size + 1))
        np.cumsum(self.events / (self.a + ratios[:, None] * self.b), axis=1, out=passed[:, 1:])
        expected = (passed[:, self.high] - passed[:, self.low]) * np.where(self.second, ratios[:, None], 1.0)
        return np.asarray(self.own - expected, dtype=np.float64)

    def off(self, ratio: float) -> float:
        """Return how many failures more the second has than it would, if it failed `ratio` times as often."""
        return float(self.values(np.array([ratio]))[0, self.second].sum())

    def apart(self, ratios: Floats) -> Floats:
        """Return `off` at each of the ratios ``(k,)`` in standard deviations, cars taken whole, ``(k,)``."""
        value = self.values(ratios)
        of_b = value * self.second
        return self._studentised((self._by_stratum(of_b), self._by_stratum(of_b**2)), value, ratios)

    def dealt(self, draws: int, rng: np.random.Generator) -> Floats:
        """Return how far apart the groups lie where cars are dealt out anew within their strata, ``(draws,)``."""
        one = np.ones(1)
        value = self.values(one)
        many = np.add.reduceat(self.second.astype(np.int64), self.starts)
        added, squares = (np.empty((draws, self.starts.size)) for _ in range(2))
        for each, values in enumerate(np.split(value[0], self.starts[1:])):
            taken = rng.permuted(np.tile(values, (draws, 1)), axis=1)[:, : many[each]]
            added[:, each], squares[:, each] = taken.sum(axis=1), (taken**2).sum(axis=1)
        return self._studentised((added, squares), value, one)

    def _by_stratum(self, values: Floats) -> Floats:
        return np.asarray(np.add.reduceat(values, self.starts, axis=-1), dtype=np.float64)

    def _studentised(self, sums: tuple[Floats, Floats], value: Floats, ratios: Floats) -> Floats:
        """Return the score over its spread, from sums and squares of the second group's cars ``(..., strata)``."""
        added, squares = sums
        b = self._by_stratum(self.second.astype(np.float64))
        a = np.diff(self.starts, append=self.own.size) - b
        of_b = np.maximum(squares - added**2 / b, 0.0)
        rest = self._by_stratum(value) - added
        of_a = np.maximum(self._by_stratum(value**2) - squares - rest**2 / a, 0.0)
        # of a single car nothing tells how cars differ: as the others do
        both = (of_a + of_b) / np.maximum(a + b - 2, 1)
        of_b, of_a = (np.where(n > 1, of / np.maximum(n - 1, 1), both) for of, n in ((of_b, b), (of_a, a)))
        variance = ((a * b / (a + b)) ** 2 * (of_b / b + of_a / a)).sum(axis=-1)
        share = ratios[:, None] * b / (a + ratios[:, None] * b)
        independent = (self._by_stratum(self.own) * share * (1 - share)).sum(axis=-1)
        spread = np.sqrt(np.maximum(variance, np.maximum(independent, LEAST)))
        return np.asarray(added.sum(axis=-1) / spread, dtype=np.float64)


def groups_of(begin: Floats, finish: Floats, second: Mask, stratum: Ints, failed: tuple[Ints, Floats]) -> Groups:
    """Compare two groups of cars at the same age.

    Parameters
    ----------
    begin, finish
        Age of each car while it was watched, ``(begin, finish]``, ``(n,)``.
    second
        Whether a car is of the second group.
    stratum
        Cars are compared within a stratum only: whole numbers, ``(n,)``.
    failed
        The car (its place in `begin`) and the age of each failure.

    Examples
    --------
    >>> car, age = np.array([0, 2, 2]), np.array([3.0, 2.0, 4.0])
    >>> two = np.array([False, False, True, True])
    >>> found = groups_of(np.zeros(4), np.full(4, 9.0), two, np.zeros(4, dtype=np.int64), (car, age))
    >>> found.values(np.ones(1)).tolist(), found.off(2.0)
    ([[0.25, -0.75, 1.25, -0.75]], 0.0)
    """
    _, stratum = np.unique(stratum, return_inverse=True)
    order = np.argsort(stratum, kind="stable")
    place = np.argsort(order)
    begin, finish, second, stratum = begin[order], finish[order], second[order], stratum[order]
    failed = place[failed[0]], failed[1]
    # strata one behind the other on one scale, so that no car meets one of another
    far = float(finish.max(initial=0.0)) + 1.0
    begin, finish = begin + far * stratum, finish + far * stratum
    car, age = failed[0], failed[1] + far * stratum[failed[0]]
    time, row = np.unique(age, return_inverse=True)
    a, b = (_watched(begin[side], finish[side], time) for side in (~second, second))
    both = (a > 0) & (b > 0)
    car, row = car[both[row]], row[both[row]]
    events = np.bincount(row, minlength=time.size)[both].astype(np.float64)
    low, high = (np.searchsorted(time[both], ends, side="right") for ends in (begin, finish))
    own = np.bincount(car, minlength=begin.size).astype(np.float64)
    starts = np.flatnonzero(np.diff(stratum, prepend=-1))
    return Groups(own, second, starts, low, high, events, a[both], b[both])


def _watched(begin: Floats, finish: Floats, time: Floats) -> Floats:
    """Return how many windows ``(begin, finish]`` hold each time."""
    entered, left = (np.searchsorted(np.sort(ends), time, side="left") for ends in (begin, finish))
    return np.asarray(entered - left, dtype=np.float64)
