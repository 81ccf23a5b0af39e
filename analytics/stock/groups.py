"""The interchangeable groups of a catalogue, with what the records tell of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.fitting import look_alikes
from analytics.stock.fits import Fits, fits_of
from analytics.stock.history import ActiveCars, Counted, StockRecords, active_cars, by, group_history, part_uses
from analytics.stock.interchange import interchange_groups
from analytics.stock.methods import Methods

if TYPE_CHECKING:
    from datetime import date

    from analytics.parameters import Parameters
    from analytics.stock.installed_base import BaseDemand
    from analytics.stock.units_in_place import CareRecords


LIVE = "live_no"
PLACE_COLUMNS = ("component", "position", "series", "serial_from")


@dataclass(frozen=True, slots=True)
class Group:
    """What is known of one interchangeable group.

    Attributes
    ----------
    live_no, members
        Number it is ordered under, and its rows of the catalogue.
    uses
        Rows of `part_uses`.
    sales
        Rows of feed table ``sales``.
    counted
        Repairs, car-years, sales, as the pooled rate counts them.
    basis
        Its installed base, or why it has none.
    """

    live_no: str
    members: pl.DataFrame
    uses: pl.DataFrame
    sales: pl.DataFrame
    counted: Counted
    basis: BaseDemand | str


@dataclass(frozen=True, slots=True)
class KnownGroups:
    """All interchangeable groups.

    Attributes
    ----------
    numbers
        As from `interchange_groups`.
    catalogue
        Feed table ``parts`` with `live_no`, `in_circle`, `row`, and `listed`, false for numbers added from records.
    groups
        Sorted by live number.
    presence
        `vehicle_id`, `presence`, the chance that the car is still in care; empty without an installed base.
    fits
        Which row of the catalogue fits which car.
    """

    numbers: pl.DataFrame
    catalogue: pl.DataFrame
    groups: list[Group]
    presence: pl.DataFrame
    fits: Fits


def known_groups(records: StockRecords, care: CareRecords | None, parameters: Parameters, as_of: date) -> KnownGroups:
    """Return every interchangeable group with what the records tell of it.

    Parameters
    ----------
    records, care
        As `forecast_stock` takes them.
    parameters, as_of
        Defaults of rule 38, and the last day that counts.
    """
    dated = records.sales.filter(pl.col("sold_on") <= as_of)
    all_sales = dated.with_columns(kept_since=pl.col("sold_on").min())
    parts = _with_rows_for_used_numbers(records, all_sales)
    numbers = interchange_groups(parts)
    order = ["live_no", "part_no", *(name for name in PLACE_COLUMNS if name in parts.columns)]
    catalogue = parts.join(numbers, on="part_no", how="inner").sort(order, nulls_last=True)
    catalogue = catalogue.with_row_index("row").with_columns(pl.col("row").cast(pl.Int64))
    fits = fits_of(catalogue, records.vehicles)
    all_uses = part_uses(records, numbers)
    uses_of, sales_of = (by(rows, LIVE) for rows in (all_uses, all_sales.join(numbers, on="part_no", how="inner")))
    activity = _Activity(records, fits, as_of, parameters)
    methods = Methods(records, care, catalogue, fits, as_of, parameters)
    groups = []
    for live_no, members in by(catalogue, LIVE).items():  # one pass per part number of the catalogue
        uses, sales = uses_of.get(live_no, all_uses.clear()), sales_of.get(live_no, all_sales.clear())
        cars = activity.of_cars_taking(members)
        counted = group_history(uses, cars, sales, as_of, parameters)
        groups.append(
            Group(live_no, members, uses, sales, counted, methods.of_group(live_no, members, counted, cars, sales))
        )
    return KnownGroups(numbers, catalogue, groups, methods.presence(), fits)


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
    parts = pl.concat([records.parts.with_columns(listed=True), unknown.with_columns(listed=False)], how="diagonal")
    return parts.sort("part_no", "component", nulls_last=True)


def look_alikes_of(known: KnownGroups) -> dict[str, list[str]]:
    """Return by live number the numbers of other groups that look like one of its own, whichever of the two says so."""
    if "looks_like" not in known.catalogue.columns:
        return {}
    groups = known.numbers.select("part_no", LIVE)
    pairs = look_alikes(known.catalogue).join(groups, on="part_no", how="inner")
    beside = pairs.join(groups.rename({"part_no": "other", LIVE: "its"}), on="other", how="left")
    others = beside.filter(pl.col("its").is_null() | (pl.col("its") != pl.col(LIVE)))
    told = others.group_by(LIVE).agg(pl.col("other").unique().sort())
    return dict(told.iter_rows())


class _Activity:
    """Counts active cars once per set of cars."""

    def __init__(self, records: StockRecords, fits: Fits, as_of: date, settings: Parameters) -> None:
        self._records, self._fits, self._as_of, self._settings = records, fits, as_of, settings
        self._vehicles = records.vehicles.sort("vehicle_id")
        self._known: dict[bytes, ActiveCars] = {}

    def of_cars_taking(self, members: pl.DataFrame) -> ActiveCars:
        """Return the activity of the cars that one of the group's numbers fits or may fit."""
        taking = self._fits.taking(members["row"].to_numpy())
        key = np.packbits(taking).tobytes()
        if key not in self._known:
            fitting = self._vehicles.filter(pl.Series(taking))
            self._known[key] = active_cars(self._records.visits, fitting, self._as_of, self._settings)
        return self._known[key]
