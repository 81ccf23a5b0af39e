"""Likelihood of units of known age as sums over units: with the shape given, a Weibull needs no more than these."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]


def log_or_lowest(values: Floats) -> Floats:
    """Return the log, -inf where the value is 0."""
    out = np.full(values.shape, -np.inf)
    return np.log(values, out=out, where=values > 0)


def per_group(spells: LifeSpells, values: Floats) -> Floats:
    """Return the sum of a value per spell over each group."""
    return np.bincount(spells.group, weights=values, minlength=spells.groups).astype(np.float64)


def sum_log_failures(spells: LifeSpells) -> Floats:
    """Return the sum of log exit over the exact failures of each group."""
    return per_group(spells, np.where(spells.exact, np.log(spells.exit), 0.0))


def exposure(spells: LifeSpells, shape: Floats) -> Floats:
    """Return W = sum(lower**shape - entry**shape) per group and shape; `lower` is exit except for silent faults.

    Parameters
    ----------
    spells
        Units of known age.
    shape
        Shape ``(groups, k)``, or ``(k,)`` for the same shapes in every group.
    """
    log_upper, log_entry = log_or_lowest(spells.lower), log_or_lowest(spells.entry)
    return _by_shape(spells, shape, lambda power: np.exp(power * log_upper) - np.exp(power * log_entry))


def exposure_slope(spells: LifeSpells, shape: Floats) -> Floats:
    """Return dW / dshape = sum(lower**shape log lower - entry**shape log entry), as `exposure`."""
    log_upper, log_entry = log_or_lowest(spells.lower), log_or_lowest(spells.entry)

    def slope(power: Floats) -> Floats:
        return times_log(np.exp(power * log_upper), log_upper) - times_log(np.exp(power * log_entry), log_entry)

    return _by_shape(spells, shape, slope)


def interval_width(spells: LifeSpells, shape: Floats) -> Floats:
    """Return log(exit**shape - lower**shape) per silent fault, ``(faults, k)``, for shapes of its group.

    Notes
    -----
    Computed as shape * log(exit) + log1p(-(lower / exit)**shape): nothing cancels, nothing underflows.
    """
    rows = spells.found
    share = shape * log_or_lowest(spells.lower[rows] / spells.exit[rows])[:, None]
    return shape * np.log(spells.exit[rows])[:, None] + np.log(-np.expm1(share))


def log_fails_within(log_hazard: Floats) -> Floats:
    """Return log(1 - exp(-h)) from log h, exact to rounding also where h is far below 1.

    Examples
    --------
    >>> log_fails_within(np.array([-50.0, 0.0])).round(4).tolist()
    [-50.0, -0.4587]
    """
    inside = np.clip(log_hazard, -30.0, 700.0)
    return np.where(log_hazard < -30.0, log_hazard, np.log(-np.expm1(-np.exp(inside))))


def times_log(power: Floats, log_time: Floats) -> Floats:
    """Return ``power * log_time``, 0 where the power is 0."""
    return power * np.where(power > 0, log_time, 0.0)


def _by_shape(spells: LifeSpells, shape: Floats, term: Callable[[Floats], Floats]) -> Floats:
    shapes = np.broadcast_to(shape, (spells.groups, np.shape(shape)[-1]))
    return np.stack([per_group(spells, term(column[spells.group])) for column in shapes.T], axis=1)
