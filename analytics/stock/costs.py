"""What costs say about an order, where they are stated: which service level pays, and how many at a time."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.ordering import economic_quantity

if TYPE_CHECKING:
    from analytics.parameters import Parameters

BY_SETTING, BY_COSTS = "setting", "costs"
HIGHEST_LEVEL = 0.999999
"""A distribution with one thousand-millionth left out beyond its end cannot tell a higher level of service."""


@dataclass(frozen=True, slots=True)
class Costs:
    """Costs of one group; None where one is not stated or not comparable.

    Attributes
    ----------
    unit, currency
        Price of one part, and its currency.
    holding_a_year
        Of one part on the shelf for a year.
    order
        Of an order, whatever its size.
    shortage
        Of a part asked for in vain.
    why_not
        Why stated costs are not used, in words, or None.
    """

    unit: float | None = None
    currency: str | None = None
    holding_a_year: float | None = None
    order: float | None = None
    shortage: float | None = None
    why_not: str | None = None

    def level(self, parameters: Parameters) -> tuple[float, str]:
        """Return the service level and what it follows from.

        Notes
        -----
        Looked at every review period, a part too many costs its holding for one period, after which the next order is
        smaller by it; a part too few costs the shortage. The newsvendor's ratio of the two is the level [1]_.

        References
        ----------
        .. [1] Arrow, Harris and Marschak (1951), Econometrica 19(3), 250-272; from memory.
        """
        if not self.shortage or not self.holding_a_year:
            return parameters.service_level, BY_SETTING
        holding = self.holding_a_year * parameters.review_days / DAYS_PER_YEAR
        return min(self.shortage / (self.shortage + holding), HIGHEST_LEVEL), BY_COSTS

    def cheapest_packs(self, parts_a_year: float, pack_size: int) -> int:
        """Return how many packs at a time are cheapest to order and hold: 1 where costs are not stated.

        Notes
        -----
        The cost is convex in the quantity, so that the packs just below and above the economic quantity are compared.
        """
        if not self.order or not self.holding_a_year or parts_a_year <= 0:
            return 1
        best = economic_quantity(parts_a_year, self.order, self.holding_a_year) / pack_size
        below = max(1, math.floor(best))

        def a_year(packs: int) -> float:
            parts = packs * pack_size
            return parts_a_year / parts * (self.order or 0.0) + parts / 2 * (self.holding_a_year or 0.0)

        return min((below, below + 1), key=a_year)


def costs_of(unit: float | None, currency: str | None, parameters: Parameters) -> Costs:
    """Return the costs of a group from its price and the settings.

    Parameters
    ----------
    unit, currency
        As the parts list says, or None.
    parameters
        `holding_share`, `order_cost`, `shortage_cost`, 0 = not stated; `currency` of the latter two, empty = not said.
    """
    stated = (parameters.holding_share, parameters.order_cost, parameters.shortage_cost)
    if not any(stated):
        return Costs(unit, currency)
    if parameters.currency and currency and currency != parameters.currency:
        why = f"the costs stated are in {parameters.currency} and its price in {currency}, so they are left out"
        return Costs(unit, currency, why_not=why)
    if not unit:
        why = "its price is not stated, so costs are left out"
        return Costs(unit, currency or parameters.currency or None, why_not=why)
    holding, order, shortage = (value or None for value in stated)
    return Costs(unit, currency or parameters.currency or None, unit * holding if holding else None, order, shortage)
