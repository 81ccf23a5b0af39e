"""How often chance alone gives so large a sum, where each part of it could as well have had the other sign."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.special import ndtr

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Ints = NDArray[np.int64]

STEPS = 40
"""Newton's steps towards the saddlepoint, each from below."""

NEAR = 0.05
"""Sums of fewer spreads than this are as good as none."""

SAME = 1e-12


def sign_flip_p_value(parts: Floats, group: Ints, groups: int) -> Floats:
    r"""Return, per group, the chance of a sum at least so far from 0 when the sign of every part is drawn anew.

    Parameters
    ----------
    parts
        One number per unit, ``(n,)``; those of 0 do not count.
    group
        Group of each part, 0 to `groups` - 1, ``(n,)``.
    groups
        Number of groups.

    Returns
    -------
    NDArray
        Two-sided p-values, ``(groups,)``; NaN in groups without a part.

    Notes
    -----
    The sum of :math:`\pm a_i` has :math:`K(t) = \sum \ln \cosh(t a_i)`; with :math:`K'(t) = s`, the sum found,
    :math:`w = \sqrt{2(ts - K)}` and :math:`u = t \sqrt{K''}`, the tail is :math:`1 - \Phi(w) + \phi(w)(1/u - 1/w)`.
    No chance is below :math:`2^{1-n}`, that of all signs alike. Against counting out every sign, p-values below 0.2
    lie between 0.5 and 1.9 of the true ones with 6 parts, 0.8 and 1.25 with 14; no random numbers are drawn.

    References
    ----------
    .. [1] Robinson (1982), Journal of the Royal Statistical Society B 44(1), 91-101: saddlepoint approximations for
       permutation tests; from memory.
    .. [2] Lugannani and Rice (1980), Advances in Applied Probability 12(2), 475-490; from memory.

    Examples
    --------
    >>> sign_flip_p_value(np.array([1.0, 2.0, 4.0, 8.0]), np.zeros(4, dtype=np.int64), 1).tolist()
    [0.125]
    """
    counts = np.bincount(group[parts != 0], minlength=groups)
    spread = np.sqrt(np.bincount(group, weights=parts**2, minlength=groups))
    unit = np.divide(np.abs(parts), spread[group], out=np.zeros(parts.size), where=spread[group] > 0)
    found = np.abs(np.bincount(group, weights=parts, minlength=groups))
    found = np.divide(found, spread, out=np.zeros(groups), where=spread > 0)
    least = 0.5 ** (np.maximum(counts, 1) - 1.0)
    p = np.clip(2 * _tail(unit, group, found), least, 1.0)
    p = np.where(found >= np.bincount(group, weights=unit, minlength=groups) * (1 - SAME), least, p)
    p = np.where(found < NEAR, 2 * ndtr(-found), p)
    return np.where(np.bincount(group, minlength=groups) > 0, p, np.nan)


def _tail(unit: Floats, group: Ints, found: Floats) -> Floats:
    """Return the chance of a sum above `found`, parts of each group having squares that add up to 1."""
    groups = found.size
    # K' is concave and at most t, so that each step ends below the root
    t = found.copy()
    for _ in range(STEPS):
        slope = np.tanh(t[group] * unit)
        below = found - np.bincount(group, weights=unit * slope, minlength=groups)
        bend = np.bincount(group, weights=unit**2 * (1 - slope**2), minlength=groups)
        t += np.divide(np.maximum(below, 0.0), bend, out=np.zeros(groups), where=bend > SAME)
    turned = t[group] * unit
    log_cosh = turned + np.log1p(np.exp(-2 * turned)) - np.log(2)
    bend = np.bincount(group, weights=(unit / np.cosh(np.minimum(turned, 300.0))) ** 2, minlength=groups)
    w = np.sqrt(np.maximum(2 * (t * found - np.bincount(group, weights=log_cosh, minlength=groups)), SAME))
    u = np.maximum(t * np.sqrt(bend), SAME)
    tail: Floats = ndtr(-w) + np.exp(-(w**2) / 2) / np.sqrt(2 * np.pi) * (1 / u - 1 / w)
    return tail
