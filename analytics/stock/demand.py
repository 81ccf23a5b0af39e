"""Demand over a horizon as a whole distribution: pooled rate, compound quantity, uncertain lead time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from statistics import NormalDist
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import nbinom

from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Circle = NDArray[np.complex128]

LEAD_TIME_POINTS = 15
"""Equally likely lead times in the mixture; doubling them moves no mass by more than 0.003 in the tests."""

TAIL = 1e-9
"""Mass that may lie beyond the last quantity kept."""

MOST_TOLD = 2**16 - 1
"""Demands of this many parts or more are one: their chance stands at this quantity."""

DAMPING = 1e-8
"""What lies beyond the circle of a capped distribution comes back onto it by no more than this share."""

ALONE_FROM = 10
"""A repair that takes more than this many times what the others take on average stands out."""


ONE = np.array([0.0, 1.0])
"""The quantity of a counter sale: always one."""


@dataclass(frozen=True, slots=True)
class History:
    """What the records say about one interchangeable group.

    Attributes
    ----------
    repairs
        Repairs that took a part of the group, campaign years left out; a mean, where a family lends them.
    car_years
        Active car-years in which they happened.
    active_cars
        Cars active on the as-of day.
    quantities
        Shape ``(k,)``, parts used per repair, whole numbers >= 1.
    sales, sales_years
        Parts asked for over the counter, and the years of sales kept; 0 years = no sales are kept.
    """

    repairs: float
    car_years: float
    active_cars: int
    quantities: NDArray[np.int64]
    sales: int = 0
    sales_years: float = 0.0

    @property
    def sales_only(self) -> bool:
        """Whether parts were sold and no car was ever active, as with part invoices alone."""
        return self.car_years <= 0 and self.active_cars == 0 and self.sales_years > 0

    def repairs_in(self, years: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the repairs expected over so many years, by the posterior of the rate."""
        return np.asarray((self.repairs + 0.5) * self.active_cars * years / self.car_years)

    def sales_in(self, years: NDArray[np.float64] | float) -> NDArray[np.float64]:
        """Return the parts expected to be sold over so many years; 0 where no sales are kept."""
        return np.asarray((self.sales + 0.5) * years / self.sales_years if self.sales_years > 0 else 0 * years)

    @property
    def per_month(self) -> float:
        """Parts a month at the rates seen: by the cars active now, and over the counter; 0 without exposure."""
        repaired = float(self.quantities.sum()) * self.active_cars / self.car_years if self.car_years > 0 else 0.0
        sold = self.sales / self.sales_years if self.sales_years > 0 else 0.0
        return (repaired + sold) / 12


class Compound:
    """The demand of one group over any horizon; what horizons share is computed once.

    Parameters
    ----------
    history
        Counts of one group.

    Raises
    ------
    ValueError
        If there is no exposure to learn a rate from.

    Notes
    -----
    Repairs over a horizon with exposure e are negative binomial (r + 1/2, E / (E + e)): a Poisson rate with
    the Jeffreys posterior Gamma(r + 1/2, E). Each repair takes a quantity from its own frequencies, with one
    more repair added as a prior (0.8 of it quantity 1, 0.2 quantity 2). Counter sales likewise, one part each.
    The compound is taken exactly through its generating function on a circle of n points; where n would be too many,
    on a slightly smaller circle, so that the quantities beyond the most that is told hardly come back onto it.

    References
    ----------
    .. [1] Jeffreys, Theory of Probability, 3rd ed. (1961), on the rate of a Poisson law; from memory.
    .. [2] Grubel and Hermesmeier (1999), ASTIN Bulletin 29(2), 197-214: the smaller circle; from memory.
    """

    def __init__(self, history: History) -> None:
        if history.car_years <= 0 and not history.sales_only:
            raise ValueError("car_years must be above 0 to give a rate")
        # without an active car there are no repairs to come, over whatever car-years
        self._history = replace(history, car_years=1.0) if history.sales_only else history
        self._quantity = quantity_frequencies(history.quantities)
        self._circles: dict[tuple[int, float], tuple[Circle, Circle]] = {}

    def mean(self, horizon_days: NDArray[np.float64]) -> float:
        """Return the expected demand in parts, in closed form and so without any cap, horizons as for `mass`."""
        repairs, sold = self._means(horizon_days)
        return repairs + sold

    def one_repair_makes_most(self, horizon_days: NDArray[np.float64]) -> int | None:
        """Return the largest quantity of a repair where it stands out and makes more than half of the demand."""
        taken = self._history.quantities
        if taken.size == 0:
            return None
        largest, everything = int(taken.max()), float(self._quantity @ np.arange(self._quantity.size))
        others = (everything * (taken.size + 1) - largest) / taken.size  # the prior repair is one of them
        repairs, sold = self._means(horizon_days)
        made = repairs * largest / (everything * (taken.size + 1))
        return largest if largest > ALONE_FROM * others and made > (repairs + sold) / 2 else None

    def mass(self, horizon_days: NDArray[np.float64]) -> NDArray[np.float64]:
        """Return the chance of each demand within a horizon, averaged over equally likely horizons.

        Parameters
        ----------
        horizon_days
            Shape ``(m,)``, equally likely lengths of the horizon in days, each >= 0.

        Returns
        -------
        numpy.ndarray
            Shape ``(n,)``, probability of demand 0, 1, ..., n - 1; sums to 1. Where n is ``MOST_TOLD + 1`` the last
            one is the chance of that demand or more.
        """
        size = self._size(float(horizon_days.max(initial=0.0)))
        damped = 1.0 if size <= MOST_TOLD + 1 else DAMPING ** (1 / size)
        if (size, damped) not in self._circles:
            self._circles[size, damped] = on_circle(self._quantity, size, damped), on_circle(ONE, size, damped)
        circles = self._circles[size, damped]
        total = np.zeros(size // 2 + 1, dtype=np.complex128)
        for days in horizon_days:  # a handful of lead times, not records
            total += generating_function(self._history, days / DAYS_PER_YEAR, *circles)
        mass = np.fft.irfft(total / horizon_days.size, size)[: MOST_TOLD + 1]
        mass = np.clip(mass / damped ** np.arange(mass.size), 0.0, None)
        if damped < 1:
            mass[-1] += max(0.0, 1.0 - float(mass.sum()))
        return trimmed(mass)

    def _means(self, horizon_days: NDArray[np.float64]) -> tuple[float, float]:
        """Return the expected parts of repairs, and those sold over the counter."""
        years = float(horizon_days.mean()) / DAYS_PER_YEAR
        each = float(self._quantity @ np.arange(self._quantity.size))
        return float(self._history.repairs_in(years)) * each, float(self._history.sales_in(years))

    def _size(self, days: float) -> int:
        """Return a power of two beyond which no mass worth keeping lies; twice the most where that would be more."""
        history, years = self._history, days / DAYS_PER_YEAR
        capped = 2 * (MOST_TOLD + 1)
        if sum(self._means(np.array([days]))) > MOST_TOLD:
            return capped
        exposure = history.active_cars * years
        repairs = nbinom.isf(TAIL, history.repairs + 0.5, history.car_years / (history.car_years + exposure))
        sold = 0.0
        if history.sales_years > 0:
            sold = nbinom.isf(TAIL, history.sales + 0.5, history.sales_years / (history.sales_years + years))
        largest = float((repairs + 1) * (self._quantity.size - 1) + sold) + 2
        return 1 << max(4, int(largest).bit_length()) if largest <= MOST_TOLD else capped


def quantity_frequencies(quantities: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the chance of each quantity per repair, shape ``(largest + 1,)``, with one repair as prior."""
    counts = np.bincount(quantities, minlength=3).astype(np.float64)
    counts[1] += 0.8
    counts[2] += 0.2
    return np.asarray(counts / counts.sum())


def lead_times(median_days: float, p90_days: float | None) -> NDArray[np.float64]:
    """Return equally likely lead times in days of a lognormal law, shape ``(15,)``, or the median alone.

    Parameters
    ----------
    median_days
        Lead time not exceeded in half of the orders, days.
    p90_days
        Lead time not exceeded in 9 of 10 orders, days; None or not above the median = the median is certain.
    """
    if p90_days is None or p90_days <= median_days or median_days <= 0:
        return np.array([median_days], dtype=np.float64)
    sigma = np.log(p90_days / median_days) / NormalDist().inv_cdf(0.9)
    middle = (np.arange(LEAD_TIME_POINTS) + 0.5) / LEAD_TIME_POINTS
    z = np.array([NormalDist().inv_cdf(p) for p in middle])
    return np.asarray(median_days * np.exp(sigma * z), dtype=np.float64)


def quantile(mass: NDArray[np.float64], probability: float) -> int:
    """Return the smallest quantity k with P(demand <= k) >= probability, at most the last quantity."""
    return min(int(np.searchsorted(np.cumsum(mass), probability - 1e-12)), mass.size - 1)


def short_of(mass: NDArray[np.float64], stock: float) -> float:
    """Return the chance that more is asked for than there is."""
    return float(min(max(1.0 - mass[: max(int(np.floor(stock)) + 1, 0)].sum(), 0.0), 1.0))


def quantile_below(mass: NDArray[np.float64], probability: float) -> int:
    """Return the largest quantity k with P(demand < k) <= probability."""
    return int(np.searchsorted(np.cumsum(mass), probability, side="right"))


def on_circle(chances: NDArray[np.float64], size: int, radius: float) -> Circle:
    """Return the generating function of quantities 0, 1, 2... at `size` points of a circle, its upper half."""
    quantity = np.arange(chances.size)
    folded = np.bincount(quantity % size, weights=chances * radius**quantity, minlength=size)
    return np.asarray(np.fft.rfft(folded))


def generating_function(history: History, years: float, quantity: Circle, counter: Circle) -> Circle:
    """Return the generating function of the gamma-Poisson repairs and sales of some years, at points of a circle."""
    share = history.active_cars * years / (history.car_years + history.active_cars * years)
    value = ((1 - share) / (1 - share * quantity)) ** (history.repairs + 0.5)
    if history.sales_years > 0:
        of_sales = years / (history.sales_years + years)
        value = value * ((1 - of_sales) / (1 - of_sales * counter)) ** (history.sales + 0.5)
    return np.asarray(value)


def trimmed(mass: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a distribution without its negligible tail, summing to 1."""
    kept = max(1, int(np.searchsorted(np.cumsum(mass), (1 - TAIL) * mass.sum())) + 1)
    return np.asarray(mass[:kept] / mass[:kept].sum())
