"""A group's row of the reorder table: what is foretold, by which method, and what to order."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.stock.cars_behind import behind
from analytics.stock.costs import BY_COSTS, costs_of
from analytics.stock.demand import quantile
from analytics.stock.group_demand import (
    FAMILY_RATE,
    POOLED_RATE,
    TOO_LITTLE,
    GroupDemand,
    by_installed_base,
    by_rate,
    family_history,
    horizons_of,
)
from analytics.stock.installed_base import BaseDemand
from analytics.stock.quantity import choices, to_order
from analytics.stock.reason import Forecast, reason
from analytics.stock.reason_base import reason_of_base

if TYPE_CHECKING:
    from collections.abc import Sequence

    import numpy as np
    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.demand import History
    from analytics.stock.groups import Group
    from analytics.stock.history import Counted
    from analytics.stock.quantity import Choice, Order
    from analytics.stock.shelf import Shelf
    from analytics.stock.units_in_place import CareRecords

    Floats = NDArray[np.float64]

OF_BASE = (
    *("cars", "cars_present", "units", "failing", "joining", "planned", "counter"),
    *("rate_mean", "rate_point"),
)
"""Columns that only an installed base fills."""


class Families:
    """Histories of the groups that serve components of one family."""

    def __init__(self, catalogue: pl.DataFrame, care: CareRecords | None, counted: dict[str, Counted]) -> None:
        self._counted = counted
        if care is None or care.facts.is_empty():
            self._family_of, self._members_of = {}, {}
            return
        named = care.facts.filter(pl.col("family").is_not_null())
        pairs = catalogue.join(named, on="component", how="inner").select("live_no", "family").unique().sort("live_no")
        self._family_of = _listed(pairs, "live_no", "family")
        self._members_of = _listed(pairs, "family", "live_no")

    def of(self, live_no: str) -> tuple[History, ...]:
        """Return the histories of the other groups of the same family."""
        others = {other for family in self._family_of.get(live_no, []) for other in self._members_of[family]}
        return tuple(self._counted[other].history for other in sorted(others - {live_no}))


@dataclass(frozen=True, slots=True)
class GroupRows:
    """What is published of one group.

    Attributes
    ----------
    row
        Of table ``reorder``.
    masses
        Distributions by horizon, days; none where there is too little to say.
    foretold
        Its demand; None where there is too little to say.
    choices, cars
        Rows of tables ``order_choice`` and ``demand_car``.
    """

    row: dict[str, object]
    masses: dict[float, Floats]
    foretold: GroupDemand | None
    choices: list[dict[str, object]]
    cars: list[dict[str, object]]


def rows_of(group: Group, shelf: Shelf, family: Sequence[History], settings: Parameters) -> GroupRows:
    """Return a group's rows of the tables of stock.

    Parameters
    ----------
    group, shelf
        What is known of it, its stock and terms.
    family
        The histories of the other groups of its family.
    settings
        Service level, review, costs.
    """
    foretold = _foretold(group, shelf, family, settings)
    costs = costs_of(shelf.unit_cost, shelf.currency, settings)
    level, level_by = costs.level(settings)
    row = _facts(group, shelf, foretold, settings) | {"service_level": level, "level_by": level_by}

    if isinstance(foretold, str):
        return GroupRows({**row, **_refused(foretold), **dict.fromkeys(OF_BASE)}, {}, None, [], [])
    mass = foretold.mass
    order = to_order(foretold, shelf, costs, level)
    chosen = choices(order, foretold, shelf, costs)
    forecast = Forecast(
        horizon_days=foretold.horizon_days,
        review_days=settings.review_days,
        mean=foretold.mean,
        level=level,
        most=order.point,
        outlier=foretold.outlier,
        in_circle=bool(group.members["in_circle"].any()),
        of_family=foretold.method == FAMILY_RATE,
        why_rate=_why_rate(group),
        order=order,
        costs=costs if level_by == BY_COSTS or costs.why_not else None,
    )
    figures = {
        "demand_mean": foretold.mean,
        **{f"p{p}": quantile(mass, p / 100) for p in (50, 80, 90, 95, 99)},
        **_order(order, chosen),
        "basis": _basis(group, shelf, foretold),
        "reason": _reason(group, shelf, foretold, forecast),
    }
    told = [{"part_no": group.live_no, **asdict(choice)} for choice in chosen]
    cars = [] if isinstance(group.basis, str) else behind(group.basis, foretold.of_cars)
    return GroupRows({**row, **figures, **_beside(group, foretold, level)}, foretold.masses, foretold, told, cars)


def _foretold(group: Group, shelf: Shelf, family: Sequence[History], settings: Parameters) -> GroupDemand | str:
    """Return the demand by the first method that the records allow, or why there is none."""
    history = group.counted.history
    if isinstance(group.basis, BaseDemand):
        return by_installed_base(group.basis, history, shelf, settings)
    if history.car_years <= 0 and not history.sales_only:
        return _why_no_rate(group.counted)
    lent = family_history(history, family) if history.repairs == 0 and history.sales == 0 else None
    return by_rate(lent or history, FAMILY_RATE if lent else POOLED_RATE, shelf, settings)


def _facts(group: Group, shelf: Shelf, foretold: GroupDemand | str, settings: Parameters) -> dict[str, object]:
    history = group.counted.history
    horizon = horizons_of(shelf, settings)[0]
    return {
        "part_no": group.live_no,
        "components": "; ".join(group.members["component"].drop_nulls().unique().sort().to_list()),
        "horizon_days": horizon,
        "method": TOO_LITTLE if isinstance(foretold, str) else foretold.method,
        "repairs": int(history.repairs),
        "car_years": float(history.car_years),
        "sales": history.sales,
        "sales_years": history.sales_years,
        "use_per_month": history.per_month if history.per_month > 0 else None,
        "on_hand": shelf.on_hand,
        "on_order": shelf.due_within(horizon),
        "reserved": shelf.reserved,
        "on_hand_aged": shelf.aged if shelf.on_hand is not None else None,
        "on_hand_ageing": shelf.ageing_within(horizon) if shelf.on_hand is not None else None,
        "on_hand_old": shelf.old_numbers if shelf.on_hand is not None else None,
        "pack_size": shelf.pack_size,
        "minimum_order": shelf.minimum_order,
        "looks_like": shelf.looks_like,
    }


def _basis(group: Group, shelf: Shelf, foretold: GroupDemand) -> str:
    kind = {POOLED_RATE: "rate", FAMILY_RATE: "family rate"}.get(foretold.method, foretold.method)
    of_sales = " of sales" * (group.counted.history.sales_only and foretold.method == POOLED_RATE)
    return f"{kind}{of_sales}{'' if shelf.lead_time_days else ', no lead time'}"


def _reason(group: Group, shelf: Shelf, foretold: GroupDemand, forecast: Forecast) -> str:
    if isinstance(group.basis, str):
        return reason(group.live_no, group.counted, shelf, forecast)
    return reason_of_base(group.basis, foretold, group.counted, shelf, forecast)


def _why_rate(group: Group) -> str | None:
    """Return why it goes by a rate, where that is worth saying: not where sales alone are known."""
    return group.basis if isinstance(group.basis, str) and not group.counted.history.sales_only else None


def _beside(group: Group, foretold: GroupDemand, level: float) -> dict[str, object]:
    """Return the counts behind an installed base, and what the pooled rate says beside it (rule 38)."""
    base, streams, rate = group.basis, foretold.streams, foretold.rate_mass
    if isinstance(base, str) or streams is None:
        return dict.fromkeys(OF_BASE)
    figures = (
        *(base.cars, base.present, base.units),
        *(streams.failing, streams.joining, streams.planned, streams.sold),
        *(foretold.rate_mean, None if rate is None else quantile(rate, level)),
    )
    return dict(zip(OF_BASE, figures, strict=True))


def _listed(pairs: pl.DataFrame, key: str, value: str) -> dict[str, list[str]]:
    return dict(pairs.group_by(key, maintain_order=True).agg(pl.col(value)).iter_rows())


def _why_no_rate(counted: Counted) -> str:
    if counted.history.active_cars:
        return "the first visit of a car that takes it was less than two months ago"
    return "no car that takes it has been seen in the last five years"


def _refused(why: str) -> dict[str, object]:
    empty = (
        *("demand_mean", "p50", "p80", "p90", "p95", "p99"),
        *("available", "reorder_point", "order_quantity", "p_short", "lasts_months"),
    )
    return {**dict.fromkeys(empty), "basis": TOO_LITTLE, "reason": f"Too little to say: {why}."}


def _order(order: Order, chosen: list[Choice]) -> dict[str, object]:
    advised = next((choice for choice in chosen if choice.choice == "advised"), None)
    return {
        "available": order.available,
        "reorder_point": order.point,
        "order_quantity": order.quantity,
        "p_short": advised.p_short if advised else None,
        "lasts_months": advised.lasts_months if advised else None,
    }
