"""Forecasts of a thin series of demand by its past alone: comparators, each with Poisson bounds that are too narrow."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import poisson

from analytics.stock.demand import TAIL

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SMOOTHING = 0.1
"""Usual share of the newest demand and gap; common practice, no source."""

LEAST_MEAN = 0.01
"""A Poisson law is taken with no smaller mean."""


def moving_average(demand: Sequence[float] | Floats, periods: int) -> float:
    """Return the mean demand of the last periods.

    Parameters
    ----------
    demand
        Demand of each period, the newest last; finite and 0 or more.
    periods
        How many of the last ones count, 1 or more.

    Raises
    ------
    ValueError
        If a demand is negative or not finite, or `periods` below 1.

    Examples
    --------
    >>> moving_average([0, 3, 0, 1], 2)
    0.5
    """
    series = _checked(demand)
    if periods < 1:
        raise ValueError(f"periods must be 1 or more, got {periods!r}")
    return float(series[-periods:].mean()) if series.size else 0.0


def croston(demand: Sequence[float] | Floats, alpha: float = SMOOTHING) -> float:
    """Return the demand per period that Croston's method expects next: smoothed size over smoothed gap.

    Parameters
    ----------
    demand
        Demand of each period, the newest last; finite and 0 or more.
    alpha
        Share of the newest size and of the newest gap in their means, above 0 and at most 1.

    Returns
    -------
    float
        0 without any demand.

    Raises
    ------
    ValueError
        If a demand is negative or not finite, or `alpha` out of range.

    Notes
    -----
    The first size and the first gap (counted from before the first period) start the means. The method has no
    stochastic model: it gives no interval [2]_.

    References
    ----------
    .. [1] Croston (1972), Operational Research Quarterly 23(3), 289-303; from memory.
    .. [2] Shenstone and Hyndman (2005), Journal of Forecasting 24(6), 389-402; from memory.

    Examples
    --------
    >>> croston([0, 2, 0, 2], 0.1)
    1.0
    """
    series = _checked(demand)
    _check_share(alpha=alpha)
    places = np.flatnonzero(series)
    if places.size == 0:
        return 0.0
    return _smoothed(series[places], alpha) / _smoothed(np.diff(places, prepend=-1).astype(np.float64), alpha)


def croston_sba(demand: Sequence[float] | Floats, alpha: float = SMOOTHING) -> float:
    """Return Croston's forecast without its upward bias: times 1 - alpha / 2.

    Parameters
    ----------
    demand, alpha
        As in `croston`.

    Raises
    ------
    ValueError
        As `croston`.

    References
    ----------
    .. [1] Syntetos and Boylan (2005), International Journal of Forecasting 21(2), 303-314; from memory.

    Examples
    --------
    >>> croston_sba([0, 2, 0, 2], 0.1)
    0.95
    """
    return (1 - alpha / 2) * croston(demand, alpha)


def tsb(
    demand: Sequence[float] | Floats, alpha_demand: float = SMOOTHING, alpha_probability: float = SMOOTHING
) -> float:
    """Return the demand per period by chance and size of a demand, the chance falling in every period without one.

    Parameters
    ----------
    demand
        As in `croston`.
    alpha_demand, alpha_probability
        Shares of the newest size and of the newest period in their means, above 0 and at most 1.

    Returns
    -------
    float
        0 without any demand.

    Raises
    ------
    ValueError
        As `croston`.

    Notes
    -----
    The first size starts the mean of sizes, the first period that of the chance.

    References
    ----------
    .. [1] Teunter, Syntetos and Babai (2011), European Journal of Operational Research 214(3), 606-615; from memory.

    Examples
    --------
    >>> round(tsb([1, 0, 0], 0.1, 0.1), 2)
    0.81
    """
    series = _checked(demand)
    _check_share(alpha_demand=alpha_demand, alpha_probability=alpha_probability)
    sizes = series[series > 0]
    if sizes.size == 0:
        return 0.0
    return _smoothed((series > 0).astype(np.float64), alpha_probability) * _smoothed(sizes, alpha_demand)


def poisson_mass(mean: float) -> Floats:
    """Return the Poisson chance of each demand, cut where what lies beyond is negligible."""
    mean = max(mean, LEAST_MEAN)
    mass = poisson.pmf(np.arange(int(poisson.isf(TAIL, mean)) + 1), mean)
    return np.asarray(mass / mass.sum())


def _smoothed(values: Floats, share: float) -> float:
    """Return the exponentially weighted mean of values, started by the first one."""
    weight = share * (1 - share) ** np.arange(values.size - 1, -1, -1.0)
    weight[0] = (1 - share) ** (values.size - 1.0)
    return float(weight @ values)


def _checked(demand: Sequence[float] | Floats) -> Floats:
    series = np.asarray(demand, dtype=np.float64)
    if series.ndim != 1 or not (np.isfinite(series) & (series >= 0)).all():
        raise ValueError("demand must be one row of finite numbers, each 0 or more")
    return series


def _check_share(**shares: float) -> None:
    for name, share in shares.items():
        if not 0 < share <= 1:
            raise ValueError(f"{name} must be above 0 and at most 1, got {share!r}")
