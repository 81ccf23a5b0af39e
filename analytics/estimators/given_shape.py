"""Weibull life with the shape given: exact limits from chi-square, and a bound without any failure."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.stats import chi2

from analytics.estimators.result_frame import shown
from analytics.estimators.searching import last_positive, reach
from analytics.estimators.weibull_likelihood import at_shape
from analytics.estimators.weibull_limits import drop

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells
    from analytics.estimators.weibull_likelihood import AtShape

    Floats = NDArray[np.float64]


def fit_given_shape(rows: LifeSpells, shape: float, confidence: float) -> dict[str, pl.Series]:
    """Return the columns of `fit_weibull` from `shape` on, the shape being given.

    Raises
    ------
    ValueError
        If `shape` is not above 0.
    """
    if not shape > 0:
        raise ValueError(f"shape must be above 0, got {shape!r}")
    likelihood = at_shape(rows, np.full((rows.groups, 1), shape))
    log_rate, lower, upper = rate_given_shape(likelihood, confidence)
    failures, exact = rows.count(rows.failed), rows.count(rows.exact)
    some, any_unit = failures > 0, rows.count() > 0
    endless = some & (likelihood.exposure[:, 0] == 0)
    finite = np.where(np.isfinite(log_rate), log_rate, -700.0)
    height = likelihood.log_likelihood(finite[:, None])[:, 0]
    status = np.where(some, "ok", np.where(any_unit, "bound only", "too few"))
    status, some = np.where(endless, "no finite estimate", status), some & ~endless
    nothing = pl.Series(np.full(rows.groups, np.nan), nan_to_null=True)
    return {
        "shape": pl.Series(np.full(rows.groups, float(shape))),
        "shape_lower": nothing,
        "shape_upper": nothing,
        "life": shown(rows.times(-finite / shape), some),
        "life_lower": shown(rows.times(-upper / shape), any_unit),
        "life_upper": shown(rows.times(-lower / shape), some),
        "log_likelihood": shown(height - exact * np.log(rows.yardstick), some),
        "status": pl.Series(status.tolist(), dtype=pl.String),
    }


def rate_given_shape(likelihood: AtShape, confidence: float) -> tuple[Floats, Floats, Floats]:
    """Return log of rate = life**-shape, with lower and upper limit, ``(groups,)``; times as shares of the yardstick.

    Notes
    -----
    Chi-square with 2 r and 2 r + 2 degrees of freedom over 2 W (r failures, W exposure); where silent faults take
    part, the likelihood ratio.
    """
    rows = likelihood.spells
    best = likelihood.best_log_rate()[:, 0]
    failures, least = rows.count(rows.failed), (1 - confidence) / 2
    double = 2 * np.where(likelihood.exposure[:, 0] > 0, likelihood.exposure[:, 0], 1.0)
    low = np.log(np.where(failures > 0, chi2.ppf(least, 2 * np.maximum(failures, 1)), 1.0) / double)
    high = np.log(chi2.ppf(1 - least, 2 * failures + 2) / double)
    silent = rows.count(rows.found) > 0
    if silent.any():
        edges = _likelihood_ratio(likelihood, best, confidence)
        low, high = np.where(silent, edges[0], low), np.where(silent, edges[1], high)
    return best, low, high


def _likelihood_ratio(likelihood: AtShape, best: Floats, confidence: float) -> tuple[Floats, Floats]:
    start = np.where(np.isfinite(best), best, -700.0)[:, None]
    floor = likelihood.log_likelihood(start) - drop(confidence)

    def above(log_rate: Floats) -> Floats:
        return likelihood.log_likelihood(log_rate) - floor

    low, high = (last_positive(above, start, reach(above, start, side))[:, 0] for side in (-1, 1))
    return low, high
