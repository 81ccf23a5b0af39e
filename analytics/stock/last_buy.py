"""Rows of the regret table: which batch to buy where supply ends, or where the smallest order outlasts a delivery."""

from __future__ import annotations

from bisect import bisect_left
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.costs import HIGHEST_LEVEL, Costs, costs_of
from analytics.stock.demand import quantile, quantile_below
from analytics.stock.installed_base import BaseDemand
from analytics.stock.quantity import available_of
from analytics.stock.supply_end import YEARS, batches, brought_forward, demand_ahead, demand_at_rate

if TYPE_CHECKING:
    from analytics.parameters import Parameters
    from analytics.stock.group_demand import GroupDemand
    from analytics.stock.groups import Group
    from analytics.stock.shelf import Shelf
    from analytics.stock.supply_end import Ahead, Batch

BATCHES = 4
"""Batches of the smallest order that are compared, besides none."""

HALVES = 2
"""Where the smallest order says little, half of what lasts is the step between batches."""

RUNS_OUT_COLUMNS = ("runs_out_p10", "runs_out_p50", "runs_out_p90")


def supply_rows(
    group: Group, shelf: Shelf, foretold: GroupDemand | None, parameters: Parameters
) -> list[dict[str, object]]:
    """Return a group's rows of table ``supply_end``, where it is worth asking for.

    That is where its smallest order outlasts the delivery after this one, where a last day to order is stated, or
    where buyers have pledged to take parts of a new batch.

    Parameters
    ----------
    group
        What is known of it.
    shelf
        Its stock and terms.
    foretold
        Its demand; None where there is too little to say.
    parameters
        Service level, costs.

    Notes
    -----
    Cost of a batch, where price and shortage are stated: the price of what is left over at the end, the shortage of
    what is asked for in vain, and the holding of what lies on the shelf meanwhile. What is used was worth its price.
    Of pledges of buyers whose cars are in care only what these would not have needed is added (`brought_forward`);
    those of others come on top: no part is counted twice.
    """
    if foretold is None:
        return []
    outlasts = shelf.minimum_order > max(quantile(foretold.mass, 0.9), 1)  # a single part is no batch
    if not (outlasts or shelf.supply_ends or shelf.pledged > 0 or shelf.pledged_in_care > 0):
        return []
    held, years = available_of(foretold, shelf), years_ahead(shelf)
    by_base = isinstance(group.basis, BaseDemand)
    ahead = (
        demand_ahead(group.basis, foretold.masses, years)
        if isinstance(group.basis, BaseDemand)
        else demand_at_rate(foretold.until, foretold.masses, years)
    )
    cars = group.basis.present if isinstance(group.basis, BaseDemand) else group.counted.history.active_cars
    ahead = brought_forward(ahead, shelf.pledged_in_care, cars)
    costs = costs_of(shelf.unit_cost, shelf.currency, parameters)
    level = last_level(costs, years, parameters)
    last = last_buy(ahead, shelf, held, level)
    told = {"part_no": group.live_no, "years": float(years), "cars_leave": by_base, "held": held}
    told |= {"pledged": shelf.pledged, "pledged_in_care": shelf.pledged_in_care, "last_buy": last}
    told |= {"currency": costs.currency, "expected_need": float(ahead.masses[-1] @ np.arange(ahead.masses[-1].size))}
    rows = batches(ahead, sizes(shelf, last, outlasts=outlasts), held, shelf.pledged)
    spent = [_cost(row, costs) for row in rows]
    best = _best(rows, spent, level)
    least = min((cost for cost in spent if cost is not None), default=None)
    return [
        {
            **told,
            "batch": row.batch,
            "p_enough": row.p_enough,
            "expected_unmet": row.expected_unmet,
            "expected_left": row.expected_left,
            **dict(zip(RUNS_OUT_COLUMNS, row.runs_out, strict=True)),
            "pays_from": pays_from(ahead, row.batch, held, costs, level),
            "advised": number == best,
            "expected_cost": cost,
            "regret": None if cost is None or least is None else cost - least,
        }
        for number, (row, cost) in enumerate(zip(rows, spent, strict=True))
    ]


def years_ahead(shelf: Shelf) -> int:
    """Return how many years a batch is looked ahead: ten, or the whole years that it keeps; what is left is lost."""
    if shelf.shelf_life_days is None:
        return YEARS
    return int(min(max(shelf.shelf_life_days / DAYS_PER_YEAR + 1e-6, 1), YEARS))


def last_level(costs: Costs, years: int, parameters: Parameters) -> float:
    """Return the chance with which the last batch is to be enough: by the newsvendor's ratio, else as set.

    Notes
    -----
    A part too few costs the shortage; one too many its price and its holding until the end [1]_.

    References
    ----------
    .. [1] Teunter and Klein Haneveld (2002), European Journal of Operational Research 137(3), 497-511, on the final
       order of a phase without supply; from memory.
    """
    if not costs.shortage or not costs.unit:
        return min(parameters.service_level, HIGHEST_LEVEL)
    overage = costs.unit + (costs.holding_a_year or 0.0) * years
    return min(costs.shortage / (costs.shortage + overage), HIGHEST_LEVEL)


def last_buy(ahead: Ahead, shelf: Shelf, held: float, level: float) -> int:
    """Return the least whole packs that, beside what is held, last to the end with a chance; pledges come first."""
    short = quantile(ahead.masses[-1], level) + shelf.pledged - max(held, 0.0)
    return 0 if short <= 0 else _packs(max(short, float(shelf.minimum_order)), shelf)


def pays_from(ahead: Ahead, batch: int, held: float, costs: Costs, level: float) -> int | None:
    """Return from how many pledges beside what the cars need a batch pays; None for no batch.

    Parameters
    ----------
    ahead
        The demand of the cars.
    batch, held
        Parts bought now, and held already.
    costs
        Where price and shortage are stated, a batch pays that is no dearer than none; the more is pledged, the more so,
        because costs are convex in what there is. Where they are not, it pays when it is used up to the last part.
    level
        The chance with which it is to be used up.
    """
    if batch <= 0:
        return None
    there = int(np.ceil(batch + max(held, 0.0)))
    if not costs.shortage or not costs.unit:
        return max(there - quantile_below(ahead.masses[-1], 1 - level), 0)

    def dearer(pledged: int) -> bool:
        none, bought = (_cost(row, costs) for row in batches(ahead, (0, batch), held, float(pledged)))
        return none is not None and bought is not None and bought > none

    return bisect_left(range(there + 1), True, key=lambda pledged: not dearer(pledged))


def sizes(shelf: Shelf, last: int, *, outlasts: bool) -> list[int]:
    """Return the batches to compare: none, four whole multiples of a step, and the one that lasts.

    Parameters
    ----------
    shelf
        Its terms.
    last
        The batch that lasts, parts.
    outlasts
        Whether the smallest order is a long supply by itself; then it is the step, else half of what lasts.
    """
    least = _packs(float(shelf.minimum_order), shelf)
    step = least if outlasts else max(least, _packs(last / HALVES, shelf))
    return sorted({*(step * times for times in range(BATCHES + 1)), last})


def _packs(parts: float, shelf: Shelf) -> int:
    return int(-(-parts // shelf.pack_size)) * shelf.pack_size


def _cost(row: Batch, costs: Costs) -> float | None:
    if not costs.shortage or not costs.unit:
        return None
    holding = (costs.holding_a_year or 0.0) * row.held_years
    return row.expected_left * costs.unit + row.expected_unmet * costs.shortage + holding


def _best(rows: list[Batch], spent: list[float | None], level: float) -> int | None:
    """Return the row of the cheapest batch, or of the least that lasts with the chance; None = no batch does."""
    known = [cost for cost in spent if cost is not None]
    if known:
        return int(np.argmin(known))
    return next((number for number, row in enumerate(rows) if row.p_enough >= level - 1e-9), None)
