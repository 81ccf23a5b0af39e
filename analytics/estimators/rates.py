"""Rates, ratios and proportions of small counts, with exact limits."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.counts_in import columns, counts_over, refuse_counts, refuse_negative
from analytics.estimators.exact import binomial_limits, binomial_p_value, poisson_limits, poisson_p_value
from analytics.estimators.limits import check_confidence
from analytics.estimators.result_frame import shown
from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.counts_in import CountsOver, Numbers


def rate(events: Numbers, exposure: Numbers, confidence: float = 0.95) -> pl.DataFrame:
    """Return how often something happens per unit of exposure.

    Parameters
    ----------
    events
        Counts, one number or ``(n,)``.
    exposure
        Vehicle-years, km or the like, at least 0, one number or ``(n,)``.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per element: `rate`, `lower`, `upper` per unit of exposure, `status`: ``ok``, ``bound only`` without
        events (the rate is 0, only `upper` tells something), ``too few`` without exposure or where a value is null.

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an exposure negative; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    References
    ----------
    .. [1] Garwood (1936), Biometrika 28, 437-442: exact limits.

    Examples
    --------
    >>> rate(4, 200.0)["rate"].to_list()
    [0.02]
    """
    given = counts_over("rate(events, exposure)", confidence, count=("events", events), amount=("exposure", exposure))
    return pl.DataFrame({**_per_amount("rate", given, confidence), "status": _status_of(given)})


def rate_ratio(
    events_a: Numbers, exposure_a: Numbers, events_b: Numbers, exposure_b: Numbers, confidence: float = 0.95
) -> pl.DataFrame:
    """Return how many times as often something happens in A as in B.

    Parameters
    ----------
    events_a, events_b
        Counts, one number or ``(n,)``.
    exposure_a, exposure_b
        In the same unit, at least 0, one number or ``(n,)``.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per element: `ratio` (rate of A over rate of B), `lower`, `upper`, `p_value` (equal rates, two-sided),
        `status`: ``ok``, ``bound only`` (no event in A), ``upper open`` (none in B: no ratio, only `lower`),
        ``too few`` (no event, or no exposure).

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an exposure negative; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    Given all events, those of A are binomial: exact limits of that probability are turned into limits of the ratio.
    The p-value adds the counts that are no more probable than the one seen, so it may differ slightly from the limits'.

    References
    ----------
    .. [1] Przyborowski and Wilenski (1940), Biometrika 31, 313-323: the conditional test.

    Examples
    --------
    >>> rate_ratio(41, 28010, 15, 19017).select(pl.col("ratio", "lower", "upper").round(3)).row(0)
    (1.856, 1.006, 3.609)
    """
    check_confidence(confidence)
    where = "rate_ratio(events_a, exposure_a, events_b, exposure_b)"
    a, time_a, b, time_b = columns(events_a, exposure_a, events_b, exposure_b)
    refuse_counts(where, events_a=a, events_b=b)
    refuse_negative(where, exposure_a=time_a, exposure_b=time_b)
    told = (a + b > 0) & (time_a > 0) & (time_b > 0)
    a, b = np.where(told, a, 0.0), np.where(told, b, 1.0)
    time_a, time_b = np.where(told, time_a, 1.0), np.where(told, time_b, 1.0)
    lower, upper = binomial_limits(a, a + b, confidence)
    per_exposure = time_b / time_a
    with np.errstate(divide="ignore"):
        ratio, low, high = a / b * per_exposure, lower / (1 - lower) * per_exposure, upper / (1 - upper) * per_exposure
    return pl.DataFrame(
        {
            "ratio": shown(ratio, told),
            "lower": shown(low, told),
            "upper": shown(high, told),
            "p_value": shown(binomial_p_value(a, a + b, time_a / (time_a + time_b)), told),
            "status": _status(told, {"bound only": a == 0, "upper open": b == 0}),
        }
    )


def standardised_ratio(observed: Numbers, expected: Numbers, confidence: float = 0.95) -> pl.DataFrame:
    """Return how many times as many events were seen as were expected.

    Parameters
    ----------
    observed
        Counts, one number or ``(n,)``.
    expected
        Number expected by chance or from elsewhere, at least 0, one number or ``(n,)``.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per element: `ratio`, `lower`, `upper`, `p_value` (two-sided, against a ratio of 1), `status`:
        ``ok``, ``bound only`` (nothing observed), ``too few`` (nothing expected, or a value is null).

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an expectation negative; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    References
    ----------
    .. [1] Garwood (1936), Biometrika 28, 437-442: exact limits.

    Examples
    --------
    >>> standardised_ratio(14, 4.3)["ratio"].round(2).to_list()
    [3.26]
    """
    where = "standardised_ratio(observed, expected)"
    given = counts_over(where, confidence, count=("observed", observed), amount=("expected", expected))
    p_value = shown(poisson_p_value(given.count, given.amount), given.told)
    return pl.DataFrame({**_per_amount("ratio", given, confidence), "p_value": p_value, "status": _status_of(given)})


def proportion(successes: Numbers, trials: Numbers, confidence: float = 0.95) -> pl.DataFrame:
    """Return which share of the trials succeeded.

    Parameters
    ----------
    successes, trials
        Counts with ``0 <= successes <= trials``, one number or ``(n,)``.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per element: `proportion`, `lower`, `upper`, all in 0 to 1, `status`: ``ok``, or ``too few`` without
        trials or where a value is null.

    Raises
    ------
    SpellError
        If a count is negative, not whole, or above its trials; the message names the rows.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    References
    ----------
    .. [1] Clopper and Pearson (1934), Biometrika 26, 404-413.

    Examples
    --------
    >>> proportion(4, 20, confidence=0.90)["proportion"].to_list()
    [0.2]
    """
    check_confidence(confidence)
    where = "proportion(successes, trials)"
    good, all_of_them = columns(successes, trials)
    refuse_counts(where, successes=good, trials=all_of_them)
    refuse_rows(good > all_of_them, "more successes than trials", where, "swap or correct the counts")
    told = (good >= 0) & (all_of_them > 0)
    good, all_of_them = np.where(told, good, 0.0), np.where(told, all_of_them, 1.0)
    lower, upper = binomial_limits(good, all_of_them, confidence)
    return pl.DataFrame(
        {
            "proportion": shown(good / all_of_them, told),
            "lower": shown(lower, told),
            "upper": shown(upper, told),
            "status": _status(told, {}),
        }
    )


def _per_amount(name: str, given: CountsOver, confidence: float) -> dict[str, pl.Series]:
    """Return counts over amounts under that name, with exact limits."""
    lower, upper = poisson_limits(given.count, confidence)
    told = {name: given.count, "lower": lower, "upper": upper}
    return {column: shown(values / given.amount, given.told) for column, values in told.items()}


def _status_of(given: CountsOver) -> pl.Series:
    return _status(given.told, {"bound only": given.count == 0})


def _status(told: NDArray[np.bool_], cases: dict[str, NDArray[np.bool_]]) -> pl.Series:
    words = np.select([~told, *cases.values()], ["too few", *cases], default="ok")
    return pl.Series(words.tolist(), dtype=pl.String)
