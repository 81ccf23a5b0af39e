"""Demand as a whole distribution from the moments of its repairs: a law for each draw, taken through its circle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.demand import DAMPING, MOST_TOLD, ONE, History, generating_function, on_circle, trimmed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Circle = NDArray[np.complex128]

FAR = 12.0
"""Standard deviations beyond which no mass is looked for."""

POINTS_AT_ONCE = 1 << 20
"""Points of circles reckoned in one go; bounds the memory."""

NEARLY_POISSON = 1e-7
"""Excess per mean below which the repairs of a draw are taken as Poisson."""


NEARLY_SURE = -1 + 1e-9
"""A chance of 1 is taken as this much less, so that every logarithm is finite."""


@dataclass(frozen=True, slots=True)
class Repairs:
    """Repairs over one horizon, a law per draw; all of shape ``(draws,)``.

    Attributes
    ----------
    mean
        Expected repairs, above 0.
    excess
        Variance less mean: below 0 where units are few and nearly sure to fail, above where they share their cars.
    days
        Horizon of the draw.
    """

    mean: Floats
    excess: Floats
    days: Floats


class Predictive:
    """The demand of a group: drawn repairs, planned work and counter sales, each repair with a drawn quantity.

    Parameters
    ----------
    quantity
        Chance of each quantity per repair, shape ``(largest + 1,)``.
    beside
        Repairs beside those drawn (planned, in passing) and counter sales, as gamma-Poisson counts.

    Notes
    -----
    Given a draw the count of repairs has a known mean and variance and is taken as binomial, Poisson or negative
    binomial, whichever these ask for [1]_. Its generating function, that of the gamma-Poisson parts and that of the
    quantities multiply; the average over the draws is turned into chances by a Fourier transform, as in `Compound`.

    References
    ----------
    .. [1] Panjer (1981), ASTIN Bulletin 12(1), 22-26: the family of the three counting laws; from memory.
    """

    def __init__(self, quantity: Floats, beside: History) -> None:
        self._quantity, self._beside = quantity, beside

    def mean(self, repairs: Repairs) -> float:
        """Return the expected demand in parts."""
        return float(self._moments(repairs)[0].mean())

    def mass(self, repairs: Repairs) -> Floats:
        """Return the chance of each demand 0, 1, ..., n - 1; where n is ``MOST_TOLD + 1`` the last is that or more."""
        mean, variance = self._moments(repairs)
        far = float((mean + FAR * np.sqrt(variance)).max()) + 3 * self._quantity.size
        size = 1 << max(5, int(min(far, 2.0 * MOST_TOLD)).bit_length())
        radius = DAMPING ** (1 / size)
        quantity, counter = on_circle(self._quantity, size, radius), on_circle(ONE, size, radius)
        total = np.zeros(quantity.size, dtype=np.complex128)
        beside = {days: self._of_others(days, quantity, counter) for days in np.unique(repairs.days).tolist()}
        at_once = max(1, POINTS_AT_ONCE // quantity.size)
        for days, others in beside.items():  # a handful of lead times
            rows = np.flatnonzero(repairs.days == days)
            for start in range(0, rows.size, at_once):
                part = rows[start : start + at_once]
                total += others * counted(repairs.mean[part], repairs.excess[part], quantity).sum(axis=0)
        mass = np.fft.irfft(total / repairs.mean.size, size)[: MOST_TOLD + 1]
        mass = np.clip(mass / radius ** np.arange(mass.size), 0.0, None)
        if mass.size > MOST_TOLD:
            mass[-1] += max(0.0, 1.0 - float(mass.sum()))
        return trimmed(mass)

    def _of_others(self, days: float, quantity: Circle, counter: Circle) -> Circle:
        return generating_function(self._beside, days / DAYS_PER_YEAR, quantity, counter)

    def _moments(self, repairs: Repairs) -> tuple[Floats, Floats]:
        """Return mean and variance of the demand in parts of each draw."""
        counts = np.arange(self._quantity.size)
        each, square = float(self._quantity @ counts), float(self._quantity @ counts**2)
        beside, years = self._beside, repairs.days / DAYS_PER_YEAR
        planned = (beside.repairs + 0.5) * beside.active_cars * years / beside.car_years
        sold = (beside.sales + 0.5) * years / beside.sales_years if beside.sales_years > 0 else np.zeros(years.size)
        number = repairs.mean + planned
        spread = np.maximum(repairs.mean + repairs.excess, 0) + planned + planned**2 / (beside.repairs + 0.5)
        of_sales = sold + sold**2 / (beside.sales + 0.5)
        return number * each + sold, number * (square - each**2) + spread * each**2 + of_sales


def counted(mean: Floats, excess: Floats, quantity: Circle) -> Circle:
    """Return the generating function of each draw's repairs at the points of a circle, ``(draws, points)``.

    Notes
    -----
    With b = excess / mean: (1 - b (Q - 1)) ** (-mean / b), a negative binomial for b > 0 and a binomial for b < 0,
    whose number of trials is made whole so that no chance is negative.
    """
    bend = np.where(np.abs(excess) < NEARLY_POISSON * mean, 0.0, excess / mean)
    sums = bend < 0
    trials = np.ceil(-mean / np.where(sums, bend, -1.0))
    bend = np.where(sums, np.maximum(-mean / np.maximum(trials, 1.0), NEARLY_SURE), bend)
    bent = np.where(bend == 0, 1.0, bend)[:, None]
    power = np.where(sums, trials, -mean / bent[:, 0])[:, None]
    step = quantity - 1
    value: Circle = np.exp(np.where(bend[:, None] == 0, mean[:, None] * step, power * np.log(1 - bent * step)))
    return value
