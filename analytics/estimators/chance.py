"""How many events chance alone gives, where their expected number is itself known only as draws."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import special

from analytics.estimators.limits import check_confidence
from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]


def by_chance(observed: ArrayLike, means: ArrayLike, confidence: float = 0.95) -> pl.DataFrame:
    r"""Return what chance gives beside each count seen.

    Parameters
    ----------
    observed
        Counts, shape ``(n,)``.
    means
        Expected counts under each of some equally likely laws, shape ``(n, draws)``, finite and at least 0.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per count: `expected`, the middle one of its means; `lower` and `upper`, counts below and above which
        chance seldom comes; `p_value`, the chance of as many as were seen or more.

    Raises
    ------
    SpellError
        If a count is negative or not whole, or a mean negative or not finite; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1, or `means` has not a row per count and at least one draw.

    Notes
    -----
    Under each law the count is Poisson; the laws are mixed with equal weights:

    .. math:: P(X \le k) = \frac{1}{D} \sum_d \sum_{j \le k} e^{-m_d} m_d^j / j!

    `lower` and `upper` are the smallest k whose probability reaches half the rest of the confidence, and 1 less that
    half. So a count lies above `upper` exactly where its `p_value` is at most that half. With means drawn from a gamma
    law this is the negative binomial. Where little is known a few laws have far greater means than the rest: their mean
    would lie far above the middle, so that the middle is told as `expected`.

    Examples
    --------
    >>> by_chance([4], [[1.0, 1.0]], confidence=0.90).with_columns(pl.col("p_value").round(4)).row(0)
    (1.0, 0, 3, 0.019)
    """
    check_confidence(confidence)
    count = np.asarray(observed, dtype=np.float64)
    mean = np.asarray(means, dtype=np.float64)
    if mean.ndim != 2 or mean.shape[0] != count.size or not mean.shape[1]:
        raise ValueError(f"means must have a row per count and at least one draw, got shape {mean.shape}")
    where = "by_chance(observed, means)"
    wrong = (count < 0) | (count != np.floor(count)) | ~np.isfinite(count)
    refuse_rows(wrong, "observed is not a count", where, "give whole numbers from 0 on", observed=count)
    wrong = np.any(~np.isfinite(mean) | (mean < 0), axis=1)
    refuse_rows(wrong, "a mean is not an amount", where, "give finite numbers from 0 on")
    tail = (1 - confidence) / 2
    more = special.pdtrc(np.maximum(count - 1, 0.0)[:, None], mean).mean(axis=1)
    return pl.DataFrame(
        {
            "expected": np.median(mean, axis=1),
            "lower": _quantile(mean, tail),
            "upper": _quantile(mean, 1 - tail),
            "p_value": np.where(count > 0, more, 1.0),
        }
    )


def _quantile(mean: Floats, probability: float) -> Counts:
    """Return the smallest count that is not exceeded with this probability, by halving."""
    low = np.full(mean.shape[0], -1.0)  # of fewer than none the probability is 0
    # Chebyshev's inequality under the greatest mean
    most = mean.max(axis=1, initial=0.0)
    high = np.ceil(most + np.sqrt(most / (1 - probability)) + 1)
    while (high - low > 1).any():
        middle = np.floor((low + high) / 2)
        reached = special.pdtr(middle[:, None], mean).mean(axis=1) >= probability
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    found: Counts = high.astype(np.int64)
    return found
