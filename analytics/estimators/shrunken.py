"""Ratios of few events pulled towards what the other cells show."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import optimize, special

from analytics.estimators.counts_in import counts_over
from analytics.estimators.result_frame import shown

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.counts_in import Numbers

    Floats = NDArray[np.float64]

FEW_CELLS = 5
"""Fewer cells than this say nothing about how cells differ: the weak prior is used."""

WEAK_PRIOR = (0.5, 0.5)
"""Shape and rate of a gamma law with mean 1 that weighs as much as half an expected event."""

LEAST_SHAPE = 1e-3
GRID = 61
MOST_STEPS = 100


def shrunken_ratio(observed: Numbers, expected: Numbers, confidence: float = 0.95) -> pl.DataFrame:
    r"""Return how many times as many events as expected there were, after allowing for luck.

    Parameters
    ----------
    observed
        Counts of the cells, ``(n,)``; the cells are one family, such as all places of one level.
    expected
        Number expected in each, at least 0.
    confidence
        Two-sided probability between `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per cell: `shrunken_ratio` (posterior median), `lower`, `upper`, `probability_above_one`,
        `prior_shape`, `prior_rate`, `status`: ``ok``, or ``too few`` where nothing was expected or a value is null.

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an expectation negative; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    :math:`O_i \sim \mathrm{Poisson}(E_i \theta_i)`, :math:`\theta_i \sim \mathrm{Gamma}(a, b)`; a and b by maximum
    likelihood of the negative binomial that this makes of the counts; the posterior is
    :math:`\mathrm{Gamma}(a + O_i, b + E_i)`. Two guards: a is at most the sum of all counts, so that the prior is
    never surer than everything that was seen (without it, cells that differ less than chance make a infinite); and with
    fewer than 5 cells, or no event at all, the prior is Gamma(0.5, 0.5).

    References
    ----------
    .. [1] DuMouchel (1999), The American Statistician 53(3), 177-190: gamma-Poisson shrinkage of ratios.
    .. [2] Noren, Hopstadius and Bate (2013), Statistical Methods in Medical Research 22(1), 57-69: the weak prior.

    Examples
    --------
    >>> shrunken_ratio([6, 1, 0, 2, 1, 0], [2.0] * 6)["shrunken_ratio"].round(2).to_list()
    [2.05, 0.53, 0.23, 0.84, 0.53, 0.23]
    """
    where = "shrunken_ratio(observed, expected)"
    given = counts_over(where, confidence, count=("observed", observed), amount=("expected", expected))
    told = given.told
    shape, rate = _prior(given.count[told], given.amount[told])
    shapes, rates = shape + given.count, rate + np.where(told, given.amount, 0.0)
    tail = (1 - confidence) / 2
    return pl.DataFrame(
        {
            "shrunken_ratio": shown(special.gammaincinv(shapes, 0.5) / rates, told),
            "lower": shown(special.gammaincinv(shapes, tail) / rates, told),
            "upper": shown(special.gammaincinv(shapes, 1 - tail) / rates, told),
            "probability_above_one": shown(special.gammaincc(shapes, rates), told),
            "prior_shape": shown(np.full(told.size, shape)),
            "prior_rate": shown(np.full(told.size, rate)),
            "status": pl.Series(np.where(told, "ok", "too few").tolist(), dtype=pl.String),
        }
    )


def _prior(count: Floats, mean: Floats) -> tuple[float, float]:
    """Fit shape and rate of the gamma law by which the cells' ratios differ."""
    total = float(count.sum())
    if count.size < FEW_CELLS or total == 0:
        return WEAK_PRIOR
    logs = np.linspace(np.log(LEAST_SHAPE), np.log(total), GRID)
    centres = _centres(np.exp(logs), count, mean)
    best = int(np.argmax(_log_likelihood(np.exp(logs), centres, count, mean)))
    low, high = float(logs[max(best - 1, 0)]), float(logs[min(best + 1, GRID - 1)])

    def rises(log_shape: float) -> float:
        shape = np.exp(np.array([log_shape]))
        return float(_slope(shape, _centres(shape, count, mean), count, mean)[0])

    inside = rises(low) > 0 > rises(high)
    shape = float(np.exp(optimize.brentq(rises, low, high, xtol=1e-12) if inside else logs[best]))
    return shape, shape / float(_centres(np.array([shape]), count, mean)[0])


def _centres(shape: Floats, count: Floats, mean: Floats) -> Floats:
    """Return for each shape the prior mean of greatest likelihood.

    It is the root of a falling convex function, so that Newton's steps from below rise to it and never pass it.
    """
    a = shape[:, None]
    centre = np.full((shape.size, 1), float(np.min(count / mean)))
    for _ in range(MOST_STEPS):
        fitted = centre * mean
        misfit = ((count - fitted) / (a + fitted)).sum(axis=1, keepdims=True)
        slope = (mean * (a + count) / (a + fitted) ** 2).sum(axis=1, keepdims=True)
        step = misfit / slope
        centre = centre + step
        if np.all(step <= centre * 1e-15):
            break
    return np.asarray(centre[:, 0], dtype=np.float64)


def _log_likelihood(shape: Floats, centre: Floats, count: Floats, mean: Floats) -> Floats:
    """Return the negative binomial log likelihood of all cells, one value per shape."""
    a, fitted = shape[:, None], centre[:, None] * mean
    parts = (
        special.gammaln(a + count)
        - special.gammaln(a)
        - special.gammaln(count + 1)
        - a * np.log1p(fitted / a)
        + special.xlogy(count, fitted / (a + fitted))
    )
    return np.asarray(parts.sum(axis=1), dtype=np.float64)


def _slope(shape: Floats, centre: Floats, count: Floats, mean: Floats) -> Floats:
    """Return the derivative of the log likelihood by shape, the prior mean held."""
    a, fitted = shape[:, None], centre[:, None] * mean
    parts = special.digamma(a + count) - special.digamma(a) - np.log1p(fitted / a) + (fitted - count) / (a + fitted)
    return np.asarray(parts.sum(axis=1), dtype=np.float64)
