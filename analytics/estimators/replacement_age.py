"""When to replace a part that still works, if a failure on the road costs more than a planned replacement."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.special import gammainc, gammaln

from analytics.estimators.result_frame import shown
from analytics.estimators.searching import last_positive

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

WIDEST = 40.0
"""The age is sought where the cumulative hazard lies between exp(-40) and 40."""

LEAST_SAVING = 1e-6
"""A smaller share saved is no saving."""


def replacement_age(shape: ArrayLike, life: ArrayLike, cost_ratio: ArrayLike) -> pl.DataFrame:
    r"""Say at which age planned replacement is cheapest in the long run, and what that costs.

    Parameters
    ----------
    shape, life
        Weibull shape and life (63.2 % failed; days or km), above 0; scalars or arrays of one length.
    cost_ratio
        Cost of a failure over the cost of a planned replacement, above 0.

    Returns
    -------
    DataFrame
        A row per element: `age` (days or km), `cost_rate` (planned replacements' cost per day or km),
        `cost_rate_unplanned` (running every part until it fails), `status`: ``ok``, or ``never``, `age` null, where
        replacing before the failure saves nothing: shape 1 or less, or a failure that costs hardly more.

    Raises
    ------
    ValueError
        If a value is not above 0.

    Notes
    -----
    Cost per time :math:`C(T) = (S(T) + k F(T)) / \int_0^T S`, k the cost ratio; the best T solves
    :math:`h(T) \int_0^T S - F(T) = 1 / (k - 1)`, whose left side rises from 0 without end if the shape is above 1.
    Never a permission to run a safety part until then.

    References
    ----------
    .. [1] Barlow and Hunter (1960), Operations Research 8(1), 90-100, policy I.

    Examples
    --------
    >>> replacement_age(2.5, 1000, 5).select(pl.col("age").round(2), "status").row(0)
    (493.05, 'ok')
    """
    shape, life, ratio = _checked(shape=shape, life=life, cost_ratio=cost_ratio)
    with np.errstate(over="ignore"):
        return _policies(shape, life, ratio)


def _policies(shape: Floats, life: Floats, ratio: Floats) -> pl.DataFrame:
    pays = (shape > 1) & (ratio > 1)
    rising, dear = np.where(pays, shape, 2.0), np.where(pays, ratio, 2.0)

    def below(log_age: Floats) -> Floats:
        return 1 / (dear - 1) + _failed(rising, log_age) - _hazard(rising, log_age) * _time_watched(rising, log_age)

    widest = np.full(shape.shape, WIDEST)
    log_age = last_positive(below, -widest / rising, np.log(widest) / rising + np.log(dear / (dear - 1)), 100)
    failed = _failed(rising, log_age)
    planned = (1 + (dear - 1) * failed) / (_time_watched(rising, log_age) * life)
    unplanned = ratio / (life * np.exp(gammaln(1 + 1 / shape)))
    pays &= planned < unplanned * (1 - LEAST_SAVING)
    return pl.DataFrame(
        {
            "age": shown(np.exp(log_age) * life, pays),
            "cost_rate": shown(np.where(pays, planned, unplanned)),
            "cost_rate_unplanned": shown(unplanned),
            "status": pl.Series(np.where(pays, "ok", "never").tolist(), dtype=pl.String),
        }
    )


def _checked(**values: ArrayLike) -> tuple[Floats, Floats, Floats]:
    arrays = {name: np.atleast_1d(np.asarray(value, dtype=np.float64)) for name, value in values.items()}
    for name, array in arrays.items():
        if not (np.isfinite(array) & (array > 0)).all():
            raise ValueError(f"{name} must be above 0 and finite, got {values[name]!r}")
    shape, life, ratio = np.broadcast_arrays(*arrays.values())
    return shape, life, ratio


def _failed(shape: Floats, log_age: Floats) -> Floats:
    failed: Floats = -np.expm1(-np.exp(np.minimum(shape * log_age, 700.0)))
    return failed


def _hazard(shape: Floats, log_age: Floats) -> Floats:
    return shape * np.exp(np.minimum((shape - 1) * log_age, 700.0))


def _time_watched(shape: Floats, log_age: Floats) -> Floats:
    """Return the integral of the survival up to an age, in lives."""
    share = gammainc(1 / shape, np.exp(np.minimum(shape * log_age, 700.0)))
    watched: Floats = np.exp(gammaln(1 + 1 / shape)) * share
    return watched
