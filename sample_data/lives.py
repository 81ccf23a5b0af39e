"""Weibull lives on age, on distance and on a mixture of both, along the road a car really travelled."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

DAYS_PER_YEAR = 365.25
NEVER = 10**9
"""A day that does not come."""


@dataclass(frozen=True, slots=True)
class Law:
    """Life of a unit: a Weibull law given by its shape and its median.

    On ``age`` the median is in years, on ``distance`` in km. On ``mixed`` the unit lives until
    ``sqrt(years / median_years * km / median_km)`` reaches a drawn number of median 1: age and distance
    multiplied with equal weight (theta = 0.5).
    """

    scale: str
    shape: float
    median_years: float
    median_km: float

    def multiple(self, uniform: float) -> float:
        """Return the life that is outlived with probability `uniform`, in medians.

        Examples
        --------
        >>> Law("age", 2.0, 7.0, 0.0).multiple(0.5)
        1.0
        """
        return float((math.log(uniform) / math.log(0.5)) ** (1.0 / self.shape))

    def longer(self, multiple: float, exponential: float) -> float:
        """Return a life beyond `multiple` medians, given a standard exponential number (minimal repair)."""
        return float((multiple**self.shape + exponential / math.log(2.0)) ** (1.0 / self.shape))


class Travel:
    """Total km of one car on every day since it was built.

    Parameters
    ----------
    built
        Day of building (proleptic ordinal).
    daily_km
        Shape ``(days,)``: km of each day from `built` on.
    """

    __slots__ = ("built", "total")

    def __init__(self, built: int, daily_km: NDArray[np.float64]) -> None:
        self.built = built
        self.total: NDArray[np.float64] = np.cumsum(daily_km)

    def km(self, day: int) -> float:
        """Return the total km at the end of a day."""
        return float(self.total[min(max(day - self.built, 0), len(self.total) - 1)])

    def day_of(self, km: float) -> int:
        """Return the first day on which the total reaches `km`, or NEVER."""
        index = int(np.searchsorted(self.total, km))
        return self.built + index if index < len(self.total) else NEVER


def failure_day(law: Law, travel: Travel, fitted: int, multiple: float) -> int:
    """Return the day on which a unit fitted on `fitted` fails, after `multiple` median lives; or NEVER."""
    if law.scale == "age":
        return fitted + max(1, math.ceil(multiple * law.median_years * DAYS_PER_YEAR))
    if law.scale == "distance":
        return max(fitted + 1, travel.day_of(travel.km(fitted) + multiple * law.median_km))
    return _mixed_failure_day(law, travel, fitted, multiple)


def _mixed_failure_day(law: Law, travel: Travel, fitted: int, multiple: float) -> int:
    start_km = travel.km(fitted)
    goal = multiple**2 * law.median_years * DAYS_PER_YEAR * law.median_km
    low, high = fitted, travel.built + len(travel.total) - 1
    if (high - fitted) * (travel.km(high) - start_km) < goal:
        return NEVER
    while high - low > 1:
        middle = (low + high) // 2
        if (middle - fitted) * (travel.km(middle) - start_km) < goal:
            low = middle
        else:
            high = middle
    return high
