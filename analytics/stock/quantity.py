"""How many to order, and what the next smaller and the next larger pack would mean."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.costs import HIGHEST_LEVEL
from analytics.stock.demand import quantile, quantile_below, short_of
from analytics.stock.supply_end import when_gone

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.stock.costs import Costs
    from analytics.stock.group_demand import GroupDemand
    from analytics.stock.shelf import Shelf

    Floats = NDArray[np.float64]

LEFT_OVER = 0.20
"""A quantity is cut where it would outlast its shelf life with more than this chance (methods B6.4)."""

HALF = 0.5
MOST_YEARS_KEPT = 10
"""A shelf life beyond this many years is taken as this."""

NEVER = 1e-4
"""A chance below this that a longer time can only lower is not reckoned further."""


@dataclass(frozen=True, slots=True)
class Order:
    """What to order now.

    Attributes
    ----------
    point
        Order when fewer than this can be counted on.
    available
        Parts that can be counted on; None without a stock count.
    quantity
        Whole packs, parts; None without a stock count.
    cut_from
        What would have been ordered if the part did not age, or None.
    """

    point: int
    available: float | None
    quantity: int | None
    cut_from: int | None = None


@dataclass(frozen=True, slots=True)
class Choice:
    """What one quantity would mean; columns of snapshot table ``order_choice``."""

    choice: str
    quantity: int
    packs: int
    p_short: float
    expected_short: float
    expected_left: float
    lasts_months: float | None
    p_aged: float | None
    cost: float | None


def to_order(foretold: GroupDemand, shelf: Shelf, costs: Costs, level: float) -> Order:
    """Return the order: the least whole packs that reach the point, more where costs ask for it, cut by shelf life.

    Parameters
    ----------
    foretold
        The group's demand.
    shelf
        Its stock and terms.
    costs
        Where stated, they tell how many packs at a time.
    level
        Chance of no shortage, 0 to 1.
    """
    point = quantile(foretold.mass, min(level, HIGHEST_LEVEL))
    if shelf.on_hand is None:
        return Order(point, None, None)
    available = available_of(foretold, shelf)
    short = point - available
    if short <= 0:
        return Order(point, available, 0)
    year = foretold.masses[365.0]
    least = costs.cheapest_packs(float(year @ np.arange(year.size)), shelf.pack_size) * shelf.pack_size
    packs = -(-max(short, float(shelf.minimum_order), float(least)) // shelf.pack_size)
    quantity = int(packs) * shelf.pack_size
    most = _used_in_time(foretold, shelf, available + quantity)
    if most is None or most - available >= quantity:
        return Order(point, available, quantity)
    kept = max(1, int((most - available) // shelf.pack_size)) * shelf.pack_size
    return Order(point, available, kept, quantity if kept < quantity else None)


def available_of(foretold: GroupDemand, shelf: Shelf) -> float:
    """Return the parts that can be counted on until the delivery after this one."""
    return shelf.available(foretold.horizon_days, foretold.mean / foretold.horizon_days)


def choices(order: Order, foretold: GroupDemand, shelf: Shelf, costs: Costs) -> list[Choice]:
    """Return what is ordered, nothing, and the next smaller and larger pack, each with what it means.

    Parameters
    ----------
    order
        As from `to_order`; without a stock count there is nothing to choose.
    foretold, shelf, costs
        As for `to_order`.
    """
    if order.quantity is None or order.available is None:
        return []
    pack, advised = shelf.pack_size, order.quantity
    least = -(-shelf.minimum_order // pack) * pack
    larger = advised + pack if advised else least
    smaller = advised - pack
    named = {"nothing": 0 if advised else None, "smaller pack": smaller if smaller >= least else None}
    named |= {"advised": advised, "larger pack": larger}
    held = order.available
    return [_meaning(name, parts, held, foretold, shelf, costs) for name, parts in named.items() if parts is not None]


def _meaning(name: str, parts: int, held: float, foretold: GroupDemand, shelf: Shelf, costs: Costs) -> Choice:
    stock, mass = held + parts, foretold.mass
    needed = np.arange(mass.size)
    return Choice(
        choice=name,
        quantity=parts,
        packs=parts // shelf.pack_size,
        p_short=short_of(mass, stock),
        expected_short=float(mass @ np.maximum(needed - stock, 0)),
        expected_left=float(mass @ np.maximum(stock - needed, 0)),
        lasts_months=_lasts(foretold.masses, stock),
        p_aged=_ages(foretold, shelf, stock) if parts else None,
        cost=None if costs.unit is None else costs.unit * parts,
    )


def _lasts(masses: dict[float, Floats], stock: float) -> float | None:
    """Return the months until the stock is used up in half of all cases; None = not within the horizons kept."""
    if stock <= 0:
        return 0.0
    days = sorted(masses)
    gone = np.maximum.accumulate([short_of(masses[d], stock - 1) for d in days])
    years = when_gone(tuple(d / DAYS_PER_YEAR for d in days), np.asarray(gone), HALF)
    return None if years is None else 12 * years


def _kept_days(shelf: Shelf) -> float | None:
    if shelf.shelf_life_days is None:
        return None
    return min(shelf.shelf_life_days, MOST_YEARS_KEPT * DAYS_PER_YEAR)


def _used_in_time(foretold: GroupDemand, shelf: Shelf, stock: float) -> float | None:
    """Return the most parts that are used before they age with the stated chance; None where it does not matter."""
    days = _kept_days(shelf)
    if days is None:
        return None
    for horizon in sorted(h for h in foretold.masses if h <= days):
        if quantile_below(foretold.masses[horizon], LEFT_OVER) >= stock:
            return None
    return quantile_below(foretold.until(days), LEFT_OVER)


def _ages(foretold: GroupDemand, shelf: Shelf, stock: float) -> float | None:
    """Return the chance that some of the stock outlasts its shelf life."""
    days = _kept_days(shelf)
    if days is None:
        return None
    for horizon in sorted(h for h in foretold.masses if h <= days):
        if 1 - short_of(foretold.masses[horizon], stock - 1) < NEVER:
            return 0.0
    return 1 - short_of(foretold.until(days), stock - 1)
