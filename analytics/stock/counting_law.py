"""Demand as a whole distribution from the moments of its repairs: a law for each draw, taken through its circle."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.fft import next_fast_len

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.demand import DAMPING, MOST_TOLD, ONE, History, generating_function, on_circle, trimmed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Circle = NDArray[np.complex128]

FAR = 16.0
"""Standard deviations beyond which no mass is looked for; failures that come in heaps reach beyond 12."""

LAWS_AT_ONCE = 15
"""Laws of like mean reckoned in one go: bounds the memory, and the points of the circle that matter to them."""

ALIKE = 0.7
"""Draws whose means lie within this share of their standard deviation are one law, with the variance of all."""

MANY = 25.0
"""Below this variance every draw stays by itself: its circle is small."""

NOTHING = -38.0
"""Logs of generating functions below this add nothing to any chance."""

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
        size = next_fast_len(max(32, int(min(far, 2.0 * MOST_TOLD)) + 1), real=True)
        radius = DAMPING ** (1 / size)
        quantity, counter = on_circle(self._quantity, size, radius), on_circle(ONE, size, radius)
        total = np.zeros(quantity.size, dtype=np.complex128)
        for days in np.unique(repairs.days).tolist():  # a handful of lead times
            of_days = repairs.days == days
            mean, excess, draws = _alike(repairs.mean[of_days], repairs.excess[of_days])
            given = np.zeros(quantity.size, dtype=np.complex128)
            for start in range(0, mean.size, LAWS_AT_ONCE):
                part = slice(start, start + LAWS_AT_ONCE)
                points = np.flatnonzero(_largest(mean[part], excess[part], quantity) > NOTHING)
                # not a matrix product: threads of its own would wait for each other longer than they reckon
                given[points] += np.einsum("d,dp->p", draws[part], counted(mean[part], excess[part], quantity[points]))
            points = np.flatnonzero(given)
            total[points] += given[points] * self._of_others(days, quantity[points], counter[points])
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
        planned, sold = beside.repairs_in(years), beside.sales_in(years)
        number = repairs.mean + planned
        spread = np.maximum(repairs.mean + repairs.excess, 0) + planned + planned**2 / (beside.repairs + 0.5)
        of_sales = sold + sold**2 / (beside.sales + 0.5)
        return number * each + sold, number * (square - each**2) + spread * each**2 + of_sales


def _alike(mean: Floats, excess: Floats) -> tuple[Floats, Floats, Floats]:
    """Return mean and excess of draws put together where they are nearly alike, by rising mean, and how many each is.

    The means of one law add a twenty-fifth to its variance, so that two moments tell it.
    """
    order = np.argsort(mean, kind="stable")
    mean, variance = mean[order], np.maximum(mean + excess, 0)[order]
    few = variance < MANY
    apart = np.diff(mean, prepend=mean[:1]) / np.where(few, 1.0, ALIKE * np.sqrt(variance))
    law = np.floor(np.cumsum(np.where(few, 1.0, apart))).astype(np.int64)
    law = np.cumsum(np.diff(law, prepend=law[:1]) > 0)
    draws = np.bincount(law).astype(np.float64)
    middle = np.bincount(law, weights=mean) / draws
    both = np.bincount(law, weights=variance + (mean - middle[law]) ** 2) / draws
    return middle, both - middle, draws


def _largest(mean: Floats, excess: Floats, quantity: Circle) -> Floats:
    """Return a bound of the log of every draw's generating function at each point.

    With d = Re(1 - Q): -variance d for a binomial and a Poisson, -(mean / b) log(1 + b d) for a negative binomial.
    """
    fall = np.real(1 - quantity)
    least, bend = float(mean.min()), float((excess / mean).max())
    narrow = -max(float((mean + np.minimum(excess, 0)).min()), 0.0) * fall
    bound: Floats = np.maximum(narrow, -least / bend * np.log1p(bend * fall)) if bend > 0 else narrow
    return bound


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
    value: Circle = np.exp(np.where(bend[:, None] == 0, mean[:, None] * step, power * _log_of_one_and(-bent * step)))
    return value


def _log_of_one_and(small: Circle) -> Circle:
    """Return log(1 + z), exact to rounding also where z is near 0: later chances are these divided by small numbers."""
    size = 2 * small.real + small.real**2 + small.imag**2
    log: Circle = 0.5 * np.log1p(size) + 1j * np.arctan2(small.imag, 1 + small.real)
    return log
