"""Probability that a unit of unknown age, mended in its place, fails again: its failures tell how old it is."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

NODES, WEIGHTS = special.roots_legendre(32)
"""Points and weights of the integral over the unit's age."""

FURTHEST = 10.0
"""Mean lives beyond which no unit is looked for where the age of the car is not known."""

LEAST = 1e-4
"""A unit is at least this part of a mean life old, so that no power of 0 is taken."""


def fails_again_within(
    shape: ArrayLike, life: ArrayLike, waited: ArrayLike, horizon: ArrayLike, joined_at: ArrayLike, failed_at: Floats
) -> Floats:
    r"""Return the probability that a unit fails within the next `horizon`, after it failed and was mended in its place.

    Parameters
    ----------
    shape, life
        Weibull shape and life (63.2 % failed; days or km), shape ``(n, draws)``.
    waited
        Since the unit was first seen, shape ``(n,)``.
    horizon
        How far ahead, shape ``(n,)``.
    joined_at
        Age of the car when the unit was first seen, shape ``(n,)``; infinity or NaN = not known.
    failed_at
        When it has failed since it was first seen, shape ``(n, failures)``, filled up with NaN.

    Returns
    -------
    NDArray
        Shape ``(n, draws)``, between 0 and 1.

    Notes
    -----
    The age x at which the unit was first seen has density S(x) / mu up to the age of the car, which is that of the
    renewal process once it has settled, and the probability S(age of the car) of being the original one. Mended
    minimally, it fails on by its hazard h at its age, so after failures at :math:`u_j` and the time u this becomes

    .. math:: S(x + u) \prod_j h(x + u_j)

    and the answer is the mean of :math:`1 - S(x + u + horizon) / S(x + u)`.

    Examples
    --------
    >>> one = fails_again_within([[1.0]], [[10.0]], [4.0], [3.0], [25.0], np.array([[1.0, 4.0]]))
    >>> round(float(one[0, 0]), 4)  # without ageing it is the exponential law's, whatever happened before
    0.2592
    """
    shape, life = np.asarray(shape, dtype=np.float64), np.asarray(life, dtype=np.float64)
    waited, horizon = (np.asarray(each, dtype=np.float64)[:, None] for each in (waited, horizon))
    car = np.asarray(joined_at, dtype=np.float64)[:, None]
    mean = life * special.gamma(1 + 1 / shape)
    usual = np.median(mean, axis=1, keepdims=True)
    least, known = LEAST * usual, np.isfinite(car)
    top = np.where(known, np.maximum(np.where(known, car, 0.0), least), FURTHEST * usual)
    # ages in one row per unit, the original unit's last; more points near 0, where young units may be frequent
    part = (NODES + 1) / 2
    age = np.concatenate([top * part**3, top], axis=1)
    width = np.log(top * 1.5 * WEIGHTS * part**2)
    settled = width[:, None, :] - np.log(mean)[..., None]
    original = np.where(known, 0.0, -np.inf)[..., None] + np.zeros((*mean.shape, 1))
    log_weight = np.concatenate([settled, original], axis=-1)
    log_weight += (shape[..., None] - 1) * _log_ages(age, failed_at, least)[:, None, :]
    passed = _cumulative(np.maximum(age + waited, least), shape, life)
    log_weight -= passed
    weight = np.exp(log_weight - log_weight.max(axis=-1, keepdims=True))
    fails = -np.expm1(passed - _cumulative(age + waited + horizon, shape, life))
    chance: Floats = (weight * fails).sum(axis=-1) / weight.sum(axis=-1)
    return chance


def _cumulative(age: Floats, shape: Floats, life: Floats) -> Floats:
    """Return the cumulative hazard of each unit, law and age."""
    log_share = np.log(age)[:, None, :] - np.log(life)[..., None]
    hazard: Floats = np.exp(shape[..., None] * log_share)
    return hazard


def _log_ages(age: Floats, failed_at: Floats, least: Floats) -> Floats:
    """Add up the logs of the ages at which each unit failed, for each age at which it may have been met first."""
    at = np.maximum(age[:, :, None] + failed_at[:, None, :], least[:, :, None])
    added: Floats = np.nansum(np.log(at), axis=-1)
    return added
