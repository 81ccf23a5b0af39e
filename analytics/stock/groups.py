"""The interchangeable groups of a catalogue, with what the records tell of each."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import polars as pl

from analytics.stock.history import ActiveCars, Counted, StockRecords, active_cars, group_history, part_uses
from analytics.stock.interchange import interchange_groups
from analytics.stock.methods import Methods

if TYPE_CHECKING:
    from datetime import date

    from analytics.parameters import Parameters
    from analytics.stock.installed_base import BaseDemand
    from analytics.stock.units_in_place import CareRecords


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
        Feed table ``parts`` with `live_no`.
    groups
        Sorted by live number.
    presence
        `vehicle_id`, `presence`, the chance that the car is still in care; empty without an installed base.
    """

    numbers: pl.DataFrame
    catalogue: pl.DataFrame
    groups: list[Group]
    presence: pl.DataFrame


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
    catalogue = parts.join(numbers, on="part_no", how="inner").sort("live_no", "part_no")
    all_uses = part_uses(records, numbers)
    uses_of, sales_of = by_live_no(all_uses), by_live_no(all_sales.join(numbers, on="part_no", how="inner"))
    activity = _ActivityBySeries(records, as_of, parameters)
    methods = Methods(records, care, catalogue, as_of, parameters)
    groups = []
    for live_no, members in by_live_no(catalogue).items():  # one pass per part number of the catalogue
        uses, sales = uses_of.get(live_no, all_uses.clear()), sales_of.get(live_no, all_sales.clear())
        cars = activity.of_cars_taking(members)
        counted = group_history(uses, cars, sales, as_of, parameters)
        groups.append(Group(live_no, members, uses, sales, counted, methods.of_group(live_no, members, counted, cars)))
    return KnownGroups(numbers, catalogue, groups, methods.presence())


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


def by_live_no(frame: pl.DataFrame) -> dict[str, pl.DataFrame]:
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
