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

FURTHEST = 30.0
"""Beyond the age at which the cumulative hazard is twice the failures and this more, no unit is looked for."""

LEAST = 0.5
"""Days or km of a unit's life at least, so that no power of 0 is taken."""


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
    waited, horizon = np.asarray(waited, dtype=np.float64)[:, None, None], np.asarray(horizon)[:, None, None]
    car = np.asarray(joined_at, dtype=np.float64)[:, None]
    car = np.where(np.isnan(car), np.inf, car)
    failures = np.isfinite(failed_at).sum(axis=1)[:, None]
    top = np.minimum(car, life * (2 * failures + FURTHEST) ** (1 / shape))
    # more points near 0, where the density of young units may be steep
    part = (NODES + 1) / 2
    age = top[..., None] * part**3
    width = np.log(1.5 * WEIGHTS * part**2) + np.log(np.maximum(top, LEAST))[..., None]
    settled = width - (np.log(life) + special.gammaln(1 + 1 / shape))[..., None]
    original = np.where(np.isfinite(car), 0.0, -np.inf)
    ages = np.concatenate([age, np.broadcast_to(np.where(np.isfinite(car), car, 0.0)[..., None], (*top.shape, 1))], -1)
    prior = np.concatenate([settled, np.broadcast_to(original[..., None], (*top.shape, 1))], -1)
    log_weight = prior - ((ages + waited) / life[..., None]) ** shape[..., None]
    for failed in failed_at.T:
        seen = np.isfinite(failed)[:, None, None]
        at = np.maximum(ages + np.where(np.isfinite(failed), failed, 0.0)[:, None, None], LEAST)
        log_weight += np.where(seen, (shape[..., None] - 1) * np.log(at / life[..., None]), 0.0)
    weight = np.exp(log_weight - log_weight.max(axis=-1, keepdims=True))
    passed = ((ages + waited) / life[..., None]) ** shape[..., None]
    ahead = ((ages + waited + horizon) / life[..., None]) ** shape[..., None]
    chance: Floats = (weight * -np.expm1(passed - ahead)).sum(axis=-1) / weight.sum(axis=-1)
    return chance
