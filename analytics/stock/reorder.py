"""What to have on the shelf: reorder point and quantity per interchangeable group, with the reason."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import polars as pl

from analytics.estimators.side_by_side import side_by_side
from analytics.stock.group_row import Families, rows_of
from analytics.stock.groups import known_groups, look_alikes_of
from analytics.stock.history import by
from analytics.stock.last_buy import supply_rows
from analytics.stock.parts_list import catalogue_findings
from analytics.stock.shelf import shelf_of
from analytics.stock.terms import terms_of
from analytics.stock.which_part import fit_tables

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.group_row import GroupRows
    from analytics.stock.groups import Group
    from analytics.stock.history import StockRecords
    from analytics.stock.units_in_place import CareRecords


STOCK_TABLES = (
    *("reorder", "demand", "supply_end", "order_choice", "demand_car"),
    *("part_fit", "part_for_car", "part_misfit", "catalogue_finding"),
)
"""Snapshot tables that a forecast fills."""


@dataclass(frozen=True, slots=True)
class StockForecast:
    """Snapshot tables of these names; and `presence`: `vehicle_id` and `presence` of cars."""

    reorder: pl.DataFrame
    demand: pl.DataFrame
    supply_end: pl.DataFrame
    order_choice: pl.DataFrame
    demand_car: pl.DataFrame
    part_fit: pl.DataFrame
    part_for_car: pl.DataFrame
    part_misfit: pl.DataFrame
    catalogue_finding: pl.DataFrame
    presence: pl.DataFrame


def forecast_stock(
    records: StockRecords, stock: pl.DataFrame, settings: Parameters, as_of: date, care: CareRecords | None = None
) -> StockForecast:
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
    care
        Units, faults and spells; None = every group goes by its pooled rate.

    Returns
    -------
    StockForecast
        Frames with the columns of the snapshot tables of their names.

    Notes
    -----
    The first that the records allow, in this order (rule 38): the installed base; the pooled rate, repairs that took
    the group over active car-years of the last five years (campaign years left out); for a part never used, the rate
    of its family. `method` and `reason` say which and why.
    """
    known = known_groups(records, care, settings, as_of)
    stock_of = by(stock.join(known.numbers, on="part_no", how="inner"), "live_no")
    alike_of = look_alikes_of(known)
    families = Families(known.catalogue, care, {group.live_no: group.counted for group in known.groups})

    def of_group(group: Group) -> tuple[GroupRows, list[dict[str, object]], list[dict[str, object]]]:
        counts = stock_of.get(group.live_no, stock.clear())
        shelf = shelf_of(group.members, group.live_no, counts, as_of, alike_of.get(group.live_no, ()))
        found = rows_of(group, shelf, families.of(group.live_no), settings)
        terms = terms_of(group.members.filter("listed"), group.live_no, counts, as_of)
        supply = supply_rows(group, shelf, found.foretold, settings)
        return replace(found, foretold=None), [found.row | terms], supply

    demand, tables = _Demand(), _Rows([], [], [], [])
    for group, (found, row, ends) in zip(known.groups, side_by_side(of_group, known.groups), strict=True):
        for rows, more in zip(tables, (row, ends, found.choices, found.cars), strict=True):
            rows += more
        demand.add(group.live_no, found.masses)
    reorder, supply, choices, cars = (pl.DataFrame(rows, infer_schema_length=None) for rows in tables)
    fit = fit_tables(records, known.catalogue, known.fits, as_of)
    return StockForecast(
        reorder=reorder,
        demand=demand.frame(),
        supply_end=supply,
        order_choice=choices,
        demand_car=cars,
        part_fit=fit.part_fit,
        part_for_car=fit.part_for_car,
        part_misfit=fit.part_misfit,
        catalogue_finding=catalogue_findings(known.catalogue),
        presence=known.presence,
    )


class _Rows(NamedTuple):
    """Rows of tables ``reorder``, ``supply_end``, ``order_choice`` and ``demand_car``."""

    reorder: list[dict[str, object]]
    supply: list[dict[str, object]]
    choices: list[dict[str, object]]
    cars: list[dict[str, object]]


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
