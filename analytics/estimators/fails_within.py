"""Probability that a unit now working fails within a horizon, its age known or not."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.known_units import log_or_lowest
from analytics.estimators.renewal import (
    LEAST,
    LONGEST_WAIT,
    SHORTEST_WAIT,
    WAIT_POINTS,
    age_step,
    residual_tables,
    wait_step,
)
from analytics.estimators.shapes import LN2, LOG_SHAPE

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

FLOOR = float(np.log(LEAST)) + 1.0
"""Where the tabulated log G is no higher, it says nothing."""


def fails_within(
    shape: ArrayLike, life: ArrayLike, age: ArrayLike, horizon: ArrayLike, joined_at: ArrayLike | None = None
) -> Floats:
    r"""Return the probability that a unit fails within the next `horizon`, given that it works now.

    Parameters
    ----------
    shape, life
        Weibull shape and life (63.2 % failed; days or km), for instance draws of shape ``(draws, 1)``.
    age
        Age of the unit, for instance of shape ``(units,)``; with `joined_at` the time since it was first seen.
    horizon
        How far ahead, on the same scale.
    joined_at
        For units of unknown age: age of the car when the unit was first seen; infinity or NaN = not known. None for
        units of known age. All arguments broadcast.

    Returns
    -------
    NDArray
        Between 0 and 1, in the broadcast shape.

    Raises
    ------
    ValueError
        If a shape or life is not above 0 and finite, or an age or horizon not finite from 0 on.

    Notes
    -----
    Known age x: :math:`1 - S(x + h) / S(x)`. Unknown: :math:`1 - G(u + h | a) / G(u | a)`, G of `residual_tables`,
    between two tabulated shapes linear in log shape. Beyond the tables, where hardly any unit gets, as if the unit had
    been new when it was first seen: of those that last so long most were.

    Examples
    --------
    >>> round(float(fails_within(1.0, 10.0, 3.0, 10.0)), 4)
    0.6321
    >>> round(float(fails_within(1.0, 10.0, 3.0, 10.0, joined_at=25.0)), 2)
    0.63
    """
    shape, life, age, horizon = _checked(shape=shape, life=life, age=age, horizon=horizon)
    if joined_at is None:
        log_ratio = _log_survival_ratio(shape, life, age, horizon)
    else:
        joined = np.asarray(joined_at, dtype=np.float64)
        law = shape, life, np.where(np.isnan(joined), np.inf, joined)
        now, later = _log_residual_survival(*law, age), _log_residual_survival(*law, age + horizon)
        beyond = (now <= FLOOR) | (age + horizon >= LONGEST_WAIT * life * LN2 ** (1 / shape))
        log_ratio = np.asarray(later - now)
        if beyond.any():
            wide = (np.broadcast_to(each, log_ratio.shape) for each in (beyond, shape, life, age, horizon))
            rows, *values = wide
            log_ratio[rows] = _log_survival_ratio(*(each[rows] for each in values))
    probability: Floats = 0.0 - np.expm1(np.minimum(log_ratio, 0.0))
    return probability


def _log_survival_ratio(shape: Floats, life: Floats, age: Floats, horizon: Floats) -> Floats:
    """Return log(S(age + horizon) / S(age)); -inf where a unit cannot have become so old."""
    with np.errstate(over="ignore", invalid="ignore"):
        now, later = (age / life) ** shape, ((age + horizon) / life) ** shape
        ratio: Floats = np.where(np.isfinite(now), now - later, -np.inf)
    return ratio


def _checked(**values: ArrayLike) -> tuple[Floats, ...]:
    arrays = {name: np.asarray(value, dtype=np.float64) for name, value in values.items()}
    for name, array in arrays.items():
        law = name in ("shape", "life")
        if not (np.isfinite(array) & ((array > 0) if law else (array >= 0))).all():
            raise ValueError(f"{name} must be {'above 0' if law else '0 or more'} and finite, got {values[name]!r}")
    return tuple(arrays.values())


def _log_residual_survival(shape: Floats, life: Floats, joined: Floats, waited: Floats) -> Floats:
    """Return log G(waited | joined) of the tables."""
    log_median = np.log(life) + np.log(LN2) / shape
    log_wait, log_age = log_or_lowest(waited) - log_median, log_or_lowest(joined) - log_median
    (i, x), (j, y) = age_step(log_age), wait_step(log_wait)
    place = np.clip((np.log(shape) - LOG_SHAPE[0]) / (LOG_SHAPE[1] - LOG_SHAPE[0]), 0.0, LOG_SHAPE.size - 1)
    below = np.minimum(place, LOG_SHAPE.size - 2).astype(np.int64)
    table, part = residual_tables().log_survival.reshape(-1), place - below
    corner = (i * np.int64(WAIT_POINTS) + j) * LOG_SHAPE.size + below
    log_survival: Floats = np.zeros(corner.shape)
    # corner by corner: arrays with an axis of four more cost several times as much as these sums
    for row, weight in ((0, (1 - x) * (1 - y)), (1, (1 - x) * y), (WAIT_POINTS, x * (1 - y)), (WAIT_POINTS + 1, x * y)):
        at = corner + row * LOG_SHAPE.size
        log_survival += weight * ((1 - part) * table.take(at) + part * table.take(at + 1))
    log_survival *= np.exp(np.minimum(log_wait - np.log(SHORTEST_WAIT), 0.0))
    return log_survival
