"""A group's row of the reorder table: what is foretold, by which method, and what to order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

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
from analytics.stock.reason import HIGHEST_LEVEL, Forecast, reason
from analytics.stock.reason_base import NAMED_FROM, reason_of_base

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.demand import History
    from analytics.stock.groups import Group
    from analytics.stock.history import Counted
    from analytics.stock.shelf import Shelf
    from analytics.stock.units_in_place import CareRecords

    Floats = NDArray[np.float64]

LEFT_OVER = 0.20
"""A quantity is cut where it would outlast its shelf life with more than this chance (methods B6.4)."""

OF_BASE = (
    *("cars", "cars_present", "units", "failing", "joining", "planned", "counter"),
    *("rate_mean", "rate_point", "likely_cars"),
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


def row_of(
    group: Group, shelf: Shelf, family: Sequence[History], settings: Parameters
) -> tuple[dict[str, object], dict[float, Floats]]:
    """Return a group's row of table ``reorder``, and its distributions by horizon.

    Parameters
    ----------
    group, shelf
        What is known of it, its stock and terms.
    family
        The histories of the other groups of its family.
    settings
        Service level, review.
    """
    foretold = _foretold(group, shelf, family, settings)
    row = _facts(group, shelf, foretold, settings)
    if isinstance(foretold, str):
        return {**row, **_refused(foretold), **dict.fromkeys(OF_BASE)}, {}
    mass = foretold.mass
    forecast = Forecast(
        horizon_days=foretold.horizon_days,
        review_days=settings.review_days,
        mean=foretold.mean,
        level=settings.service_level,
        most=_point(mass, settings),
        outlier=foretold.outlier,
        in_circle=bool(group.members["in_circle"].any()),
        of_family=foretold.method == FAMILY_RATE,
        why_rate=_why_rate(group),
    )
    figures = {
        "demand_mean": foretold.mean,
        **{f"p{p}": quantile(mass, p / 100) for p in (50, 80, 90, 95, 99)},
        **_order(mass, foretold.masses, shelf, foretold.horizon_days, settings),
        "basis": _basis(group, shelf, foretold),
        "reason": _reason(group, shelf, foretold, forecast),
    }
    return {**row, **figures, **_beside(group, foretold, settings)}, foretold.masses


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
        "service_level": settings.service_level,
        "method": TOO_LITTLE if isinstance(foretold, str) else foretold.method,
        "repairs": int(history.repairs),
        "car_years": float(history.car_years),
        "sales": history.sales,
        "sales_years": history.sales_years,
        "use_per_month": history.per_month if history.per_month > 0 else None,
        "on_hand": shelf.on_hand,
        "on_order": shelf.due_within(horizon),
        "reserved": shelf.reserved,
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


def _beside(group: Group, foretold: GroupDemand, settings: Parameters) -> dict[str, object]:
    """Return the counts behind an installed base, and what the pooled rate says beside it (rule 38)."""
    base, streams, rate = group.basis, foretold.streams, foretold.rate_mass
    if isinstance(base, str) or streams is None:
        return dict.fromkeys(OF_BASE)
    figures = (
        *(base.cars, base.present, base.units),
        *(streams.failing, streams.joining, streams.planned, streams.sold),
        *(foretold.rate_mean, None if rate is None else _point(rate, settings)),
        "; ".join(foretold.cars) if streams.failing >= NAMED_FROM and foretold.cars else None,
    )
    return dict(zip(OF_BASE, figures, strict=True))


def _listed(pairs: pl.DataFrame, key: str, value: str) -> dict[str, list[str]]:
    return dict(pairs.group_by(key, maintain_order=True).agg(pl.col(value)).iter_rows())


def _why_no_rate(counted: Counted) -> str:
    if counted.history.active_cars:
        return "the first visit of a car that takes it was less than two months ago"
    return "no car that takes it has been seen in the last five years"


def _refused(why: str) -> dict[str, object]:
    empty = ("demand_mean", "p50", "p80", "p90", "p95", "p99", "reorder_point", "order_quantity")
    return {**dict.fromkeys(empty), "basis": TOO_LITTLE, "reason": f"Too little to say: {why}."}


def _point(mass: Floats, settings: Parameters) -> int:
    return quantile(mass, min(settings.service_level, HIGHEST_LEVEL))


def _order(
    mass: Floats,
    masses: dict[float, Floats],
    shelf: Shelf,
    horizon: float,
    settings: Parameters,
) -> dict[str, object]:
    """Rule 38: order when what is available falls below the reorder point, whole packs, cut by shelf life."""
    point = _point(mass, settings)
    if shelf.on_hand is None:
        return {"reorder_point": point, "order_quantity": None}
    short = point - shelf.available(horizon)
    if short <= 0:
        return {"reorder_point": point, "order_quantity": 0}
    packs = -(-max(short, float(shelf.minimum_order)) // shelf.pack_size)
    quantity = int(packs) * shelf.pack_size
    if shelf.shelf_life_days is not None:
        usable = min(masses, key=lambda h: abs(h - float(shelf.shelf_life_days or 0)))
        if usable <= shelf.shelf_life_days:
            quantity = min(quantity, _within_shelf_life(masses[usable], shelf, horizon))
    return {"reorder_point": point, "order_quantity": quantity}


def _within_shelf_life(mass: Floats, shelf: Shelf, horizon: float) -> int:
    """Return the most whole packs that are used before they age with the stated chance; at least one pack."""
    usable = int(np.searchsorted(np.cumsum(mass), LEFT_OVER, side="right"))
    return max(1, int((usable - shelf.available(horizon)) // shelf.pack_size)) * shelf.pack_size
