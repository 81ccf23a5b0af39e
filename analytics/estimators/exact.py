"""Exact limits and two-sided p-values of binomial and Poisson counts, element by element."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special, stats

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Probability = Callable[[Floats], Floats | float]

SAME_PROBABILITY = 1 + 1e-7
"""Two probabilities this close are equal but for rounding (as in R's binom.test and poisson.test)."""


@dataclass(frozen=True, slots=True)
class _Law:
    """Probability of a count, of at most it, and of more than it."""

    pmf: Probability
    cdf: Probability
    sf: Probability


def poisson_limits(count: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Return exact limits of the mean of a Poisson count; the lower one is 0 for a count of 0.

    References
    ----------
    .. [1] Garwood (1936), Biometrika 28, 437-442.

    Examples
    --------
    >>> [round(float(limit[0]), 3) for limit in poisson_limits(np.array([10.0]), 0.95)]
    [4.795, 18.39]
    """
    tail = (1 - confidence) / 2
    lower = np.where(count > 0, special.gammaincinv(np.maximum(count, 1.0), tail), 0.0)
    return lower.astype(np.float64), special.gammaincinv(count + 1, 1 - tail).astype(np.float64)


def binomial_limits(successes: Floats, trials: Floats, confidence: float) -> tuple[Floats, Floats]:
    """Return exact limits of a probability: 0 below if nothing, 1 above if everything was a success.

    References
    ----------
    .. [1] Clopper and Pearson (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> [round(float(limit[0]), 4) for limit in binomial_limits(np.array([4.0]), np.array([20.0]), 0.90)]
    [0.0714, 0.401]
    """
    tail = (1 - confidence) / 2
    misses = trials - successes
    lower = np.where(successes > 0, special.betaincinv(np.maximum(successes, 1), misses + 1, tail), 0.0)
    upper = np.where(misses > 0, special.betaincinv(successes + 1, np.maximum(misses, 1), 1 - tail), 1.0)
    return lower, upper


def binomial_p_value(successes: Floats, trials: Floats, probability: Floats) -> Floats:
    """Return how likely a count no more probable than the one seen is, if each trial succeeds with `probability`."""
    law = _Law(
        lambda k: stats.binom.pmf(k, trials, probability),
        lambda k: stats.binom.cdf(k, trials, probability),
        lambda k: stats.binom.sf(k, trials, probability),
    )
    return _two_sided(successes, law, trials * probability, trials + 1)


def poisson_p_value(count: Floats, mean: Floats) -> Floats:
    """Return how likely a count no more probable than the one seen is, under a Poisson law with `mean`."""
    # beyond e times the mean a count is less probable than 0, so the far side is found below this
    law = _Law(
        lambda k: stats.poisson.pmf(k, mean),
        lambda k: stats.poisson.cdf(k, mean),
        lambda k: stats.poisson.sf(k, mean),
    )
    return _two_sided(count, law, mean, np.ceil(3 * mean + count + 50))


def _two_sided(count: Floats, law: _Law, centre: Floats, top: Floats) -> Floats:
    """Add the tail that was seen and the counts of the other side that are no more probable."""
    limit = np.asarray(law.pmf(count) * SAME_PROBABILITY, dtype=np.float64)
    below = count < centre
    first = _first_rare(law.pmf, limit, np.ceil(centre), top)
    last = _last_rare(law.pmf, limit, np.floor(centre))
    seen_low = law.cdf(count) + law.sf(first - 1)
    seen_high = law.sf(count - 1) + np.where(last >= 0, law.cdf(last), 0.0)
    value = np.where(below, seen_low, seen_high)
    return np.minimum(np.where(count == centre, 1.0, value), 1.0)


def _first_rare(pmf: Probability, limit: Floats, low: Floats, high: Floats) -> Floats:
    """Find the least count in [low, high] that is no more probable than `limit`, where probabilities fall."""
    while np.any(low < high):
        middle = np.floor((low + high) / 2)
        rare = pmf(middle) <= limit
        low, high = np.where(rare, low, np.minimum(middle + 1, high)), np.where(rare, middle, high)
    return low


def _last_rare(pmf: Probability, limit: Floats, high: Floats) -> Floats:
    """Find the greatest count in [-1, high] that is no more probable than `limit`, where probabilities rise."""
    low = np.full_like(high, -1.0)
    while np.any(low < high):
        middle = np.ceil((low + high) / 2)
        rare = pmf(middle) <= limit
        low, high = np.where(rare, middle, low), np.where(rare, high, np.maximum(middle - 1, low))
    return low
