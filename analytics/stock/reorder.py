"""What to have on the shelf: reorder point and quantity per interchangeable group, with the reason."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.stock.group_row import Families, row_of
from analytics.stock.groups import by_live_no, known_groups
from analytics.stock.shelf import shelf_of
from analytics.stock.supply_end import supply_rows
from analytics.stock.terms import terms_of

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.history import StockRecords
    from analytics.stock.units_in_place import CareRecords


@dataclass(frozen=True, slots=True)
class StockForecast:
    """Snapshot tables ``reorder``, ``demand`` and ``supply_end``; `vehicle_id` and `presence` of cars."""

    reorder: pl.DataFrame
    demand: pl.DataFrame
    supply_end: pl.DataFrame
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
        Frames with the columns of snapshot tables ``reorder``, ``demand`` and ``supply_end``.

    Notes
    -----
    The first that the records allow, in this order (rule 38): the installed base; the pooled rate, repairs that took
    the group over active car-years of the last five years (campaign years left out); for a part never used, the rate
    of its family. `method` and `reason` say which and why.
    """
    known = known_groups(records, care, settings, as_of)
    stock_of = by_live_no(stock.join(known.numbers, on="part_no", how="inner"))
    families = Families(known.catalogue, care, {group.live_no: group.counted for group in known.groups})
    listed = records.parts["part_no"].unique().to_list()
    reorder, demand, supply = [], _Demand(), []
    for group in known.groups:  # one pass per part number of the catalogue
        counts = stock_of.get(group.live_no, stock.clear())
        shelf = shelf_of(group.members, group.live_no, counts, as_of)
        row, masses = row_of(group, shelf, families.of(group.live_no), settings)
        in_list = group.members.filter(pl.col("part_no").is_in(listed))
        reorder.append(row | terms_of(in_list, group.live_no, counts, as_of))
        demand.add(group.live_no, masses)
        supply += supply_rows(group, shelf, row, masses)
    reordered, ends = (pl.DataFrame(rows, infer_schema_length=None) for rows in (reorder, supply))
    return StockForecast(reordered, demand.frame(), ends, known.presence)


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
