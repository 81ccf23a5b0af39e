"""Fit a failure rate that rises or falls as a power of time to recurring failures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import optimize, special

from analytics.estimators.limits import check_confidence
from analytics.estimators.result_frame import shown
from analytics.estimators.spells_in import refuse_rows, times
from analytics.estimators.windows_in import windows_in

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analytics.estimators.windows_in import Truncation, Watched

    Floats = NDArray[np.float64]

LEAST_LOG_SHAPE, MOST_LOG_SHAPE = np.log(1e-3), np.log(1e3)
"""A shape outside is an edge of the search, not an estimate."""

FEWEST_EVENTS = 2


@dataclass(frozen=True, slots=True)
class _Counts:
    """Events and windows with times divided by the latest window end.

    ``low`` is below ``time`` where an event is known to an interval only, else equal to it.
    """

    start: Floats
    end: Floats
    low: Floats
    time: Floats
    unit: float

    def expected(self, shape: float) -> float:
        """Return the sum of end^shape - start^shape."""
        return float(np.sum(self.end**shape - self.start**shape))

    def log_likelihood(self, shape: float) -> float:
        """Return the log likelihood of the scaled times, intensity at its best value for this shape."""
        n, interval = self.time.size, self.low < self.time
        exact, time = np.log(self.time[~interval]), np.log(self.time[interval])
        within = shape * np.sum(time) + np.sum(np.log1p(-self._below(shape)))
        at_times = exact.size * np.log(shape) + (shape - 1) * np.sum(exact)
        return float(n * np.log(n / self.expected(shape)) - n + at_times + within)

    def slope(self, shape: float) -> float:
        """Return the derivative of the log likelihood by shape."""
        interval = self.low < self.time
        below = self._below(shape)
        length = np.log(self.time[interval]) - np.log(np.maximum(self.low[interval], np.finfo(np.float64).tiny))
        within = np.where(below > 0, below * length / (1 - below), 0.0)
        moved = np.sum(special.xlogy(self.end**shape, self.end) - special.xlogy(self.start**shape, self.start))
        own = np.sum(~interval) / shape + np.sum(np.log(self.time)) + np.sum(within)
        return float(own - self.time.size * moved / self.expected(shape))

    def _below(self, shape: float) -> Floats:
        """Return (low / time)^shape of the failures known to an interval, never so near 1 that it looks like 1."""
        interval = self.low < self.time
        ratio = (self.low[interval] / self.time[interval]) ** shape
        return np.minimum(ratio, 1 - float(np.finfo(np.float64).eps))


@dataclass(frozen=True, slots=True)
class _Fit:
    """Estimates with their limits; NaN where there is none."""

    shape: float = np.nan
    shape_limits: tuple[float, float] = (np.nan, np.nan)
    intensity: float = np.nan
    intensity_limits: tuple[float, float] = (np.nan, np.nan)


def fit_power_law(
    events: pl.DataFrame, windows: pl.DataFrame, truncation: Truncation = "time", confidence: float = 0.95
) -> pl.DataFrame:
    r"""Return how the expected number of failures of a system grows with its age or distance.

    Parameters
    ----------
    events
        Columns `system`, `time`: one row per failure, days or km. With a column `time_lower`, a failure is known to
        lie in ``(time_lower, time]`` only (counts per interval: one row per failure).
    windows
        Columns `system`, `start`, `end`: each system was watched in ``(start, end]``; systems may start late and end
        at different times.
    truncation
        ``time``, or ``failure`` if each window ends with its last failure.
    confidence
        Two-sided confidence of the limits, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        One row: `systems`, `events`, `shape` (above 1 it gets worse), `shape_lower`, `shape_upper`, `shape_unbiased`,
        `intensity`, `intensity_lower`, `intensity_upper`, `cramer_von_mises`, `status`: ``ok``, ``too few`` (fewer
        than 2 failures), ``no finite estimate`` (all failures at the end of the windows); the numbers are null then.

    Raises
    ------
    SpellError
        If windows or events break their contract; the message names the rows.
    ValueError
        If `truncation` or `confidence` is not one of those above.

    Notes
    -----
    The expected number by time t is :math:`\lambda t^\beta`; `intensity` is :math:`\lambda`, `shape` :math:`\beta`.
    :math:`\hat\lambda = n / \sum (e^\beta - s^\beta)` over the windows, and the shape solves one equation. Limits of
    the shape are exact (:math:`2 n \beta / \hat\beta` is chi-square with 2n, if truncated by failure 2(n - 1) degrees)
    if every window starts at 0 and ends at the same time and all times are exact; else they, and those of the
    intensity, are those of the likelihood ratio. `cramer_von_mises` compares the times with the law of shape
    `shape_unbiased`, which is the estimate times (n - 1) / n, or (n - 2) / n if truncated by failure.

    References
    ----------
    .. [1] Crow (1974), Reliability analysis for complex, repairable systems, in: Reliability and Biometry, SIAM.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, sections 8.2.2.3 and 8.4.5.2.
    .. [3] MIL-HDBK-189 (1981), Reliability Growth Management, appendix C: grouped data and goodness of fit.

    Examples
    --------
    >>> windows = pl.DataFrame({"system": [1], "start": [0], "end": [100]})
    >>> fit_power_law(pl.DataFrame({"system": [1, 1, 1], "time": [50, 80, 95]}), windows)["shape"].round(3).to_list()
    [3.101]
    """
    check_confidence(confidence)
    where = "fit_power_law(events, windows)"
    watched = windows_in(events, windows, truncation, where)
    refuse_rows(watched.start < 0, "start is negative", where, "count time from 0", start=watched.start)
    counts = _counts(events, watched, where)
    fit = _fit(counts, watched, confidence) if watched.time.size >= FEWEST_EVENTS else _Fit()
    unbiased, misfit = _goodness(watched, fit.shape, exact=bool(np.all(counts.low == counts.time)))
    too_few = watched.time.size < FEWEST_EVENTS
    numbers = {
        "shape": fit.shape,
        "shape_lower": fit.shape_limits[0],
        "shape_upper": fit.shape_limits[1],
        "shape_unbiased": unbiased,
        "intensity": fit.intensity,
        "intensity_lower": fit.intensity_limits[0],
        "intensity_upper": fit.intensity_limits[1],
        "cramer_von_mises": misfit,
    }
    return pl.DataFrame(
        {
            "systems": pl.Series([watched.systems], dtype=pl.Int64),
            "events": pl.Series([watched.time.size], dtype=pl.Int64),
            **{name: shown(np.array([value])) for name, value in numbers.items()},
            "status": ["too few" if too_few else "ok" if np.isfinite(fit.shape) else "no finite estimate"],
        }
    )


def _counts(events: pl.DataFrame, watched: Watched, where: str) -> _Counts:
    low = watched.time
    if "time_lower" in events.columns:
        (low,) = (values.astype(np.float64) for values in times(events, "time_lower", where=where))
        outside = (low > watched.time) | (low < watched.start[watched.window])
        refuse_rows(outside, "time_lower is outside the window or after time", where, "correct it", time_lower=low)
    unit = float(watched.end.max()) if watched.end.size else 1.0
    return _Counts(watched.start / unit, watched.end / unit, low / unit, watched.time / unit, unit)


def _fit(counts: _Counts, watched: Watched, confidence: float) -> _Fit:
    log_shape = _root(lambda x: counts.slope(float(np.exp(x))), LEAST_LOG_SHAPE, MOST_LOG_SHAPE)
    if np.isnan(log_shape):
        return _Fit()
    shape = float(np.exp(log_shape))
    least = counts.log_likelihood(shape) - float(special.chdtri(1, 1 - confidence)) / 2

    def above(x: float) -> float:
        return counts.log_likelihood(float(np.exp(x))) - least

    low, high = _root(above, LEAST_LOG_SHAPE, log_shape), _root(above, log_shape, MOST_LOG_SHAPE)
    ratio_limits = (float(np.exp(low)) if np.isfinite(low) else 0.0, float(np.exp(high)))
    alike = bool(np.all(watched.start == 0) and np.all(watched.end == watched.end[0]))
    exact_times = bool(np.all(counts.low == counts.time))
    exact = alike and exact_times and (watched.end.size == 1 or not watched.closes.any())
    return _Fit(
        shape,
        _exact_limits(shape, watched, confidence) if exact else ratio_limits,
        float(np.exp(_log_intensity(counts, shape))),
        _intensity_limits(counts, least, ratio_limits),
    )


def _root(function: Callable[[float], float], low: float, high: float) -> float:
    """Return where a function changes sign, NaN if it does not."""
    if not np.sign(function(low)) * np.sign(function(high)) < 0:
        return np.nan
    return float(optimize.brentq(function, low, high, xtol=1e-13))


def _exact_limits(shape: float, watched: Watched, confidence: float) -> tuple[float, float]:
    n = watched.time.size
    df = 2 * (n - int(watched.closes.sum()))
    tail = (1 - confidence) / 2
    low, high = special.chdtri(df, 1 - tail), special.chdtri(df, tail)
    return float(shape * low / (2 * n)), float(shape * high / (2 * n))


def _log_intensity(counts: _Counts, shape: float) -> float:
    """Return the log of the best intensity for this shape, in the unit of the times as they came."""
    return float(np.log(counts.time.size / counts.expected(shape)) - shape * np.log(counts.unit))


def _intensity_limits(counts: _Counts, least: float, shapes: tuple[float, float]) -> tuple[float, float]:
    """Return the least and greatest intensity of any shape whose likelihood is still above `least`.

    For one shape the log likelihood falls by n (e^x - 1 - x) where the log intensity is x off its best value, so x has
    a closed form (Lambert's W) on either side; only the shape is searched.
    """
    low, high = shapes
    if not (0 < low < high < np.inf):
        return np.nan, np.nan

    def edge(shape: float, branch: int) -> float:
        room = max(counts.log_likelihood(shape) - least, 0.0) / counts.time.size
        off = -1 - room - float(np.real(special.lambertw(-np.exp(-1 - room), branch)))
        return _log_intensity(counts, shape) + off

    least_log = optimize.minimize_scalar(lambda s: edge(s, 0), bounds=(low, high), method="bounded").fun
    most_log = -optimize.minimize_scalar(lambda s: -edge(s, -1), bounds=(low, high), method="bounded").fun
    return float(np.exp(least_log)), float(np.exp(most_log))


def _goodness(watched: Watched, shape: float, *, exact: bool) -> tuple[float, float]:
    """Return the shape without its bias, and the Cramer-von Mises distance from its law."""
    time, start, end = watched.free
    n, m = watched.time.size, time.size
    if m < FEWEST_EVENTS or not np.isfinite(shape):
        return np.nan, np.nan
    unbiased = shape * (m - 1) / n
    if not exact:
        return unbiased, np.nan
    unit = end.max()
    begin = (start / unit) ** unbiased
    share = np.sort(((time / unit) ** unbiased - begin) / ((end / unit) ** unbiased - begin))
    middle = (2 * np.arange(1, m + 1) - 1) / (2 * m)
    return unbiased, float(1 / (12 * m) + np.sum((share - middle) ** 2))
