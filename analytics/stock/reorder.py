"""What to have on the shelf: reorder point and quantity per interchangeable group, with the reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.stock.demand import Compound, lead_times, quantile
from analytics.stock.history import ActiveCars, Counted, StockRecords, active_cars, group_history, part_uses
from analytics.stock.interchange import interchange_groups
from analytics.stock.reason import HIGHEST_LEVEL, Forecast, reason
from analytics.stock.shelf import Shelf, shelf_of

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.parameters import Parameters

HORIZONS = (30.0, 90.0, 180.0, 365.0, 730.0)
"""Days for which whole distributions are kept, besides the lead time plus review."""

LEFT_OVER = 0.20
"""A quantity is cut where it would outlast its shelf life with more than this chance (methods B6.4)."""


@dataclass(frozen=True, slots=True)
class StockForecast:
    """Snapshot tables ``reorder`` and ``demand``."""

    reorder: pl.DataFrame
    demand: pl.DataFrame


def forecast_stock(records: StockRecords, stock: pl.DataFrame, settings: Parameters, as_of: date) -> StockForecast:
    """Forecast the demand of every interchangeable group and say what to order.

    Parameters
    ----------
    records
        Lines, visits, cars, parts and sales up to the as-of day.
    stock
        Feed table ``stock``; the newest count per part and batch counts.
    settings
        `service_level`, `review_days` and the windows of rule 38.
    as_of
        Last day that counts.

    Returns
    -------
    StockForecast
        Frames with the columns of snapshot tables ``reorder`` and ``demand``.

    Notes
    -----
    The pooled rate of rule 38: repairs that took the group over active car-years of the last five years
    (campaign years left out), as a negative binomial, compounded with the quantities seen.
    """
    dated = records.sales.filter(pl.col("sold_on") <= as_of)
    all_sales = dated.with_columns(kept_since=pl.col("sold_on").min())
    parts = _with_rows_for_used_numbers(records, all_sales)
    groups = interchange_groups(parts)
    uses = part_uses(records, groups)
    activity = _ActivityBySeries(records, as_of, settings)
    uses_of = _by_group(uses)
    sales_of, stock_of = (_by_group(table.join(groups, on="part_no", how="inner")) for table in (all_sales, stock))
    reorder, demand = [], _Demand()
    for live_no, members in _by_group(parts.join(groups, on="part_no", how="inner").sort("live_no", "part_no")).items():
        cars = activity.of_cars_taking(members)  # one pass per part number of the catalogue
        sales = sales_of.get(live_no, all_sales.clear())
        counted = group_history(uses_of.get(live_no, uses.clear()), cars, sales, as_of, settings)
        shelf = shelf_of(members, live_no, stock_of.get(live_no, stock.clear()), as_of)
        row, masses = _one_group(live_no, members, counted, shelf, settings)
        reorder.append(row)
        demand.add(live_no, masses)
    return StockForecast(pl.DataFrame(reorder, infer_schema_length=None), demand.frame())


class _Demand:
    """Gathers the distributions of all groups and horizons into one frame."""

    def __init__(self) -> None:
        self._keys: list[tuple[str, float]] = []
        self._masses: list[NDArray[np.float64]] = []

    def add(self, live_no: str, masses: dict[float, NDArray[np.float64]]) -> None:
        self._keys += [(live_no, horizon) for horizon in masses]
        self._masses += masses.values()

    def frame(self) -> pl.DataFrame:
        if not self._keys:
            return pl.DataFrame()
        length = [mass.size for mass in self._masses]
        which = np.repeat(np.arange(len(length)), length)
        keys = pl.DataFrame(self._keys, schema={"part_no": pl.String, "horizon_days": pl.Float64}, orient="row")
        return keys[which].with_columns(
            quantity=pl.Series(np.concatenate([np.arange(n) for n in length])),
            probability=pl.Series(np.concatenate(self._masses)),
        )


def _with_rows_for_used_numbers(records: StockRecords, sales: pl.DataFrame) -> pl.DataFrame:
    """Add numbers that were fitted or sold but the catalogue does not know: each is a group of its own."""
    known = records.parts["part_no"]
    sold = sales.select("part_no", component=pl.lit(None, dtype=pl.String))
    unknown = (
        pl.concat([records.lines.select("part_no", "component"), sold])
        .filter(pl.col("part_no").is_not_null() & ~pl.col("part_no").is_in(known.to_list()))
        .group_by("part_no")
        .agg(component=pl.col("component").drop_nulls().mode().sort().first().fill_null("not recorded"))
    )
    return pl.concat([records.parts, unknown], how="diagonal").sort("part_no", "component", nulls_last=True)


def _by_group(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
    """Return the rows of each live number, in the order of the frame."""
    return {str(key[0]): rows for key, rows in frame.partition_by("live_no", as_dict=True, maintain_order=True).items()}


class _ActivityBySeries:
    """Counts active cars once per set of series."""

    def __init__(self, records: StockRecords, as_of: date, settings: Parameters) -> None:
        self._records, self._as_of, self._settings = records, as_of, settings
        self._known: dict[tuple[str, ...], ActiveCars] = {}

    def of_cars_taking(self, members: pl.DataFrame) -> ActiveCars:
        """Return the activity of the cars whose series takes one of the group's numbers."""
        named = members["series"].drop_nulls().unique().sort().to_list() if "series" in members.columns else []
        everywhere = not named or members["series"].null_count() > 0
        key = () if everywhere else tuple(named)
        if key not in self._known:
            vehicles = self._records.vehicles
            fitting = vehicles if everywhere else vehicles.filter(pl.col("series").is_in(named))
            self._known[key] = active_cars(self._records.visits, fitting, self._as_of, self._settings)
        return self._known[key]


def _one_group(
    live_no: str, members: pl.DataFrame, counted: Counted, shelf: Shelf, settings: Parameters
) -> tuple[dict[str, object], dict[float, NDArray[np.float64]]]:
    horizon = (shelf.lead_time_days or 0.0) + settings.review_days
    row: dict[str, object] = {
        "part_no": live_no,
        "components": "; ".join(members["component"].drop_nulls().unique().sort().to_list()),
        "horizon_days": horizon,
        "service_level": settings.service_level,
        "method": "pooled rate",
        "repairs": counted.history.repairs,
        "car_years": float(counted.history.car_years),
        "sales": counted.history.sales,
        "sales_years": counted.history.sales_years,
        "use_per_month": counted.history.per_month if counted.history.per_month > 0 else None,
        "on_hand": shelf.on_hand,
        "on_order": shelf.due_within(horizon),
        "reserved": shelf.reserved,
        "pack_size": shelf.pack_size,
        "minimum_order": shelf.minimum_order,
        "looks_like": shelf.looks_like,
    }
    if counted.history.car_years <= 0 and not counted.history.sales_only:
        return {**row, **_refused(_why_no_rate(counted))}, {}
    compound = Compound(counted.history)
    masses = {h: compound.mass(np.array([h])) for h in HORIZONS}
    leads = lead_times(shelf.lead_time_days, shelf.lead_time_p90_days) if shelf.lead_time_days else np.zeros(1)
    horizons = leads + settings.review_days
    mass, mean = compound.mass(horizons), compound.mean(horizons)
    masses[horizon] = mass
    order = _order(mass, masses, shelf, horizon, settings)
    forecast = Forecast(
        horizon_days=horizon,
        review_days=settings.review_days,
        mean=mean,
        level=settings.service_level,
        most=_point(mass, settings),
        outlier=compound.one_repair_makes_most(horizons),
        in_circle=bool(members["in_circle"].any()),
    )
    figures = {
        "demand_mean": mean,
        **{f"p{p}": quantile(mass, p / 100) for p in (50, 80, 90, 95, 99)},
        **order,
        "basis": f"rate{' of sales' * counted.history.sales_only}{'' if shelf.lead_time_days else ', no lead time'}",
        "reason": reason(live_no, counted, shelf, forecast),
    }
    return {**row, **figures}, masses


def _why_no_rate(counted: Counted) -> str:
    if counted.history.active_cars:
        return "the first visit of a car that takes it was less than two months ago"
    return "no car that takes it has been seen in the last five years"


def _refused(why: str) -> dict[str, object]:
    empty = ("demand_mean", "p50", "p80", "p90", "p95", "p99", "reorder_point", "order_quantity")
    return {**dict.fromkeys(empty), "basis": "too little to say", "reason": f"Too little to say: {why}."}


def _point(mass: NDArray[np.float64], settings: Parameters) -> int:
    return quantile(mass, min(settings.service_level, HIGHEST_LEVEL))


def _order(
    mass: NDArray[np.float64],
    masses: dict[float, NDArray[np.float64]],
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


def _within_shelf_life(mass: NDArray[np.float64], shelf: Shelf, horizon: float) -> int:
    """Return the most whole packs that are used before they age with the stated chance; at least one pack."""
    usable = int(np.searchsorted(np.cumsum(mass), LEFT_OVER, side="right"))
    return max(1, int((usable - shelf.available(horizon)) // shelf.pack_size)) * shelf.pack_size
