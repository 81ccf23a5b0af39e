"""Classical answers to how many: newsvendor, economic quantity, Poisson stock, sums of unlike chances."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import poisson, poisson_binom

from analytics.stock.demand import quantile

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

ROUNDING = 1e-9


def newsvendor(pmf: Sequence[float] | Floats, underage: float, overage: float) -> int:
    """Return the quantity to stock once, when each part too few and each part too many has a cost.

    Parameters
    ----------
    pmf
        Chance of demand 0, 1, 2...; sums to 1.
    underage, overage
        Cost of a part that is missing, and of one left over, in one currency; 0 or more, not both 0.

    Returns
    -------
    int
        Smallest k with P(demand <= k) >= underage / (underage + overage).

    Raises
    ------
    ValueError
        If the chances are no distribution, or a cost is negative, not finite, or both are 0.

    References
    ----------
    .. [1] Arrow, Harris and Marschak (1951), Econometrica 19(3), 250-272; from memory.

    Examples
    --------
    >>> newsvendor([0.2, 0.3, 0.3, 0.2], underage=3.0, overage=1.0)
    2
    """
    mass = np.asarray(pmf, dtype=np.float64)
    if mass.ndim != 1 or not (np.isfinite(mass) & (mass >= 0)).all() or abs(mass.sum() - 1) > ROUNDING * mass.size:
        raise ValueError("pmf must be one row of chances, each 0 or more, that sum to 1")
    if not all(math.isfinite(cost) and cost >= 0 for cost in (underage, overage)) or underage + overage == 0:
        raise ValueError(f"underage and overage must be finite, 0 or more, not both 0; got {underage!r}, {overage!r}")
    return quantile(mass, underage / (underage + overage))


def economic_quantity(demand_rate: float, order_cost: float, holding_cost: float) -> float:
    """Return the quantity per order that makes ordering and holding cheapest at a steady demand.

    Parameters
    ----------
    demand_rate
        Parts per unit of time, 0 or more.
    order_cost
        Cost of an order whatever its size, 0 or more.
    holding_cost
        Cost of holding one part for one unit of time, above 0.

    Raises
    ------
    ValueError
        If a value is out of range or not finite.

    References
    ----------
    .. [1] Harris (1913), Factory, The Magazine of Management 10(2), 135-136, 152.

    Examples
    --------
    >>> round(economic_quantity(demand_rate=1200, order_cost=50.0, holding_cost=3.0))
    200
    """
    values = (demand_rate, order_cost, holding_cost)
    if not all(math.isfinite(value) and value >= 0 for value in values) or holding_cost == 0:
        raise ValueError(f"all must be finite and 0 or more, holding_cost above 0; got {values!r}")
    return math.sqrt(2 * demand_rate * order_cost / holding_cost)


def poisson_binomial(probabilities: Sequence[float] | Floats) -> Floats:
    """Return the chance that 0, 1, ... n of unlike units fail.

    Parameters
    ----------
    probabilities
        Shape ``(n,)``, chance of each unit.

    Returns
    -------
    numpy.ndarray
        Shape ``(n + 1,)``.

    Raises
    ------
    ValueError
        If a probability is not between 0 and 1.

    References
    ----------
    .. [1] Hong (2013), Computational Statistics & Data Analysis 59, 41-51; from memory.

    Examples
    --------
    >>> poisson_binomial([0.5, 0.5]).tolist()
    [0.25, 0.5, 0.25]
    """
    chances = np.asarray(probabilities, dtype=np.float64)
    if chances.ndim != 1 or not ((chances >= 0) & (chances <= 1)).all():
        raise ValueError("probabilities must be one row of numbers from 0 to 1")
    if chances.size == 0:
        return np.ones(1)
    return np.asarray(poisson_binom.pmf(np.arange(chances.size + 1), chances), dtype=np.float64)


def poisson_stock(mean: float, service_level: float) -> int:
    """Return the smallest stock that covers Poisson demand with a chance.

    Parameters
    ----------
    mean
        Expected demand, 0 or more.
    service_level
        Chance that the stock is enough, above 0 and below 1.

    Raises
    ------
    ValueError
        If a value is out of range.

    Examples
    --------
    >>> poisson_stock(2.0, 0.9)
    4
    """
    if not (math.isfinite(mean) and mean >= 0):
        raise ValueError(f"mean must be finite and 0 or more, got {mean!r}")
    if not 0 < service_level < 1:
        raise ValueError(f"service_level must be above 0 and below 1, got {service_level!r}")
    return max(0, int(poisson.ppf(service_level, mean)))
