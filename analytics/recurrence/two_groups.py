"""Two groups of cars, or two sides of the same cars: how much more often the second fails, and how surely."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]
    Mask = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Unlike:
    """How two groups differ.

    Attributes
    ----------
    value
        One number per car whose sum over the second group says that this one fails more often, ``(n,)``.
    ratio
        How many times as often the second group fails; 0 or infinite where one of them never failed.
    wider
        Limits of independent failures are to be widened by this factor on the log scale, at least 1.
    """

    value: Floats
    ratio: float
    wider: float


def at_one_age(begin: Floats, finish: Floats, second: Mask, failed: tuple[Ints, Floats]) -> Unlike:
    r"""Compare two groups of cars at the same age.

    Parameters
    ----------
    begin, finish
        Age of each car while it was watched, ``(begin, finish]``, ``(n,)``.
    second
        Whether a car is of the second group.
    failed
        The car (its place in `begin`) and the age of each failure.

    Notes
    -----
    With :math:`Y_a, Y_b` cars watched, R the sum of :math:`Y_a / Y` over the failures of b and S that of
    :math:`Y_b / Y` over those of a, the ratio is R / S and the test's numerator R - S, so that both point the same way.
    The spread is that of the cars' own contributions about what the ratio expects of them.

    References
    ----------
    .. [1] Rothman, Greenland and Lash (2008), Modern Epidemiology, ch. 15: the Mantel-Haenszel rate ratio; from memory.
    .. [2] Lawless and Nadeau (1995), Technometrics 37(2), 158-168: variance by the units' contributions.

    Examples
    --------
    >>> car, age = np.array([0, 2, 2]), np.array([3.0, 2.0, 4.0])
    >>> found = at_one_age(np.zeros(4), np.full(4, 9.0), np.array([False, False, True, True]), (car, age))
    >>> found.ratio, found.value.tolist()
    (2.0, [0.25, -0.75, 1.25, -0.75])
    """
    car, age = failed
    time, row = np.unique(age, return_inverse=True)
    events = np.bincount(row, minlength=time.size).astype(np.float64)
    a, b = (_watched(begin[side], finish[side], time) for side in (~second, second))
    value = np.bincount(car, minlength=begin.size) - _between(events / (a + b), time, begin, finish)
    of_b = second[car]
    weight = np.where(of_b, a[row], b[row]) / (a + b)[row]
    up, down = float(weight[of_b].sum()), float(weight[~of_b].sum())
    ratio = up / down if down > 0 else np.inf
    if not 0 < ratio < np.inf:
        return Unlike(value, ratio, 1.0)
    usual = events / (a + ratio * b)
    summed = np.bincount(car, weights=weight, minlength=begin.size)
    in_b = summed - ratio * _between(usual * a / (a + b), time, begin, finish)
    in_a = ratio * (summed - _between(usual * b / (a + b), time, begin, finish))
    robust = float(np.sum(np.where(second, in_b, in_a) ** 2)) / up**2
    single = float(np.sum((weight * np.where(of_b, 1.0, ratio)) ** 2)) / up**2
    least = 1 / of_b.sum() + 1 / (~of_b).sum()
    return Unlike(value, ratio, float(np.sqrt(max(robust, single, least) / least)))


def _watched(begin: Floats, finish: Floats, time: Floats) -> Floats:
    """Return how many windows ``(begin, finish]`` hold each time."""
    entered, left = (np.searchsorted(np.sort(ends), time, side="left") for ends in (begin, finish))
    return np.asarray(entered - left, dtype=np.float64)


def _between(step: Floats, time: Floats, begin: Floats, finish: Floats) -> Floats:
    """Return the sum of the steps within each window ``(begin, finish]``."""
    total = np.concatenate([[0.0], np.cumsum(step)])
    low, high = (np.searchsorted(time, ends, side="right") for ends in (begin, finish))
    return np.asarray(total[high] - total[low], dtype=np.float64)


def within_cars(first: Floats, second: Floats) -> Unlike:
    """Compare two sides of the same cars, watched for as long.

    Parameters
    ----------
    first, second
        Failures of each car on either side, ``(n,)``.

    Examples
    --------
    >>> within_cars(np.array([1.0, 0.0]), np.array([2.0, 1.0])).ratio
    3.0
    """
    a, b = float(first.sum()), float(second.sum())
    value, ratio = second - first, b / a if a > 0 else np.inf
    if not 0 < ratio < np.inf:
        return Unlike(value, ratio, 1.0)
    share = b / (a + b)
    off = second - share * (first + second)
    return Unlike(value, ratio, float(np.sqrt(max(1.0, np.sum(off**2) / (share * (1 - share) * (a + b))))))
