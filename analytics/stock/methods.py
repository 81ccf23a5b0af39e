"""Which method foretells the demand of a group: its installed base, or in words why not."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.in_care import FAILURES, in_care
from analytics.stock.installed_base import BaseDemand
from analytics.stock.streams import CountedOn, position_uses, streams_of

if TYPE_CHECKING:
    from analytics.parameters import Parameters
    from analytics.stock.history import ActiveCars, Counted, StockRecords
    from analytics.stock.units_in_place import CareRecords

EPOCH = date(1970, 1, 1)
NO_BASE = "no unit of it is known to sit in a car"


class Methods:
    """Gives each group's demand from its installed base, or says why it has none.

    Parameters
    ----------
    records, care
        As `in_care` takes them; `care` None = nothing is known of units.
    catalogue
        Feed table ``parts`` with `live_no`, numbers that were used and are not in it among them.
    as_of, parameters
        Last day that counts, and the defaults.
    """

    def __init__(
        self,
        records: StockRecords,
        care: CareRecords | None,
        catalogue: pl.DataFrame,
        as_of: date,
        parameters: Parameters,
    ) -> None:
        self._as_of, self._parameters = as_of, parameters
        self._vehicles = records.vehicles.sort("vehicle_id").with_row_index("car")
        self._visits = records.visits.join(records.vehicles.select("vehicle_id"), on="vehicle_id", how="semi")
        self._told = care is not None
        self._care = in_care(records, care, as_of, parameters) if care is not None else None
        if care is None:
            return
        uses = position_uses(records, catalogue.select("part_no", "live_no").unique(), parameters)
        faults = care.faults.filter(pl.col("reads_as").is_in(FAILURES))
        places = self._care.places.with_row_index("row") if self._care else faults.clear()
        self._uses, self._no_use = _by(uses, "live_no"), uses.clear()
        self._places, self._no_place = _by(places, "component"), places.clear()
        self._faults, self._no_fault = _by(faults, "component"), faults.clear()
        self._serving = dict(catalogue.group_by("component").agg(pl.col("live_no").n_unique()).iter_rows())

    def presence(self) -> pl.DataFrame:
        """Return `vehicle_id` and `presence`, the chance that the car is still in care."""
        care = self._care
        if care is None:
            return pl.DataFrame(schema={"vehicle_id": pl.String, "presence": pl.Float64})
        return care.cars.select("vehicle_id", presence=pl.Series(np.minimum(care.q, 1.0)))

    def of_group(self, live_no: str, members: pl.DataFrame, counted: Counted, active: ActiveCars) -> BaseDemand | str:
        """Return a group's demand from its installed base, or why there is none.

        Parameters
        ----------
        live_no
            Number of the group.
        members
            Its rows of the catalogue.
        counted
            Its repairs and sales, as the pooled rate counts them.
        active
            Activity of the cars that take it.
        """
        if not self._told:
            return NO_BASE
        care = self._care
        uses = self._uses.get(live_no, self._no_use)
        taking = self._taking(members)
        if 0 < self._visits_of(taking) <= uses.select("vehicle_id", "closed_on").n_unique():
            return "its cars are seen only when they take this part"
        if care is None:
            return NO_BASE
        if care.day - care.start < self._parameters.base_years * DAYS_PER_YEAR:
            return f"the records are younger than {self._parameters.base_years:g} years"
        served = _served(members, uses)
        rows = _rows_at(self._places, served, self._no_place)["row"].to_numpy().astype(np.int64)
        if not care.seen.known[care.units.car[rows]].any():
            return NO_BASE
        named = {name: self._serving.get(name, 1) for name in members["component"].drop_nulls().unique()}
        faults = _rows_at(self._faults, served, self._no_fault)
        start = EPOCH + timedelta(days=int(care.start))
        on = CountedOn(self._as_of, start, active, self._parameters)
        streams = streams_of(uses, faults, named, taking, on)
        return BaseDemand(
            live_no,
            care,
            rows,
            taking["car"].to_numpy().astype(np.int64),
            streams,
            (counted.history.sales, counted.history.sales_years),
        )

    def _taking(self, members: pl.DataFrame) -> pl.DataFrame:
        """Return the cars of the series that take it."""
        named = members["series"] if "series" in members.columns else pl.Series([None])
        return self._vehicles if named.null_count() else self._vehicles.filter(pl.col("series").is_in(named.to_list()))

    def _visits_of(self, taking: pl.DataFrame) -> int:
        return self._visits.join(taking.select("vehicle_id"), on="vehicle_id", how="semi").height


def _by(frame: pl.DataFrame, column: str) -> dict[str, pl.DataFrame]:
    return {str(key[0]): rows for key, rows in frame.partition_by(column, as_dict=True, maintain_order=True).items()}


def _served(members: pl.DataFrame, uses: pl.DataFrame) -> pl.DataFrame:
    """Return the places a group serves: those of the catalogue, and components on which it was used besides."""
    columns = ["component", "series", "position"]
    stated = members.select(
        pl.col(name) if name in members.columns else pl.lit(None, dtype=pl.String).alias(name) for name in columns
    )
    besides = uses.select("component").unique().join(stated, on="component", how="anti")
    return pl.concat([stated, besides], how="diagonal").filter(pl.col("component").is_not_null()).unique().sort(columns)


def _at(frame: pl.DataFrame, served: pl.DataFrame) -> pl.DataFrame:
    """Return the rows at places served; an empty series or position stands for all."""
    fits = []
    for component, series, position in served.select("component", "series", "position").iter_rows():
        fit = pl.col("component") == component
        for column, value in (("series", series), ("position", position)):
            fit = fit if value is None else fit & (pl.col(column) == value)
        fits.append(fit)
    return frame.filter(pl.any_horizontal(pl.lit(value=False), *fits))


def _rows_at(frames: dict[str, pl.DataFrame], served: pl.DataFrame, nothing: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of each component's frame at places served."""
    named = [name for name in served["component"].unique().sort() if name in frames]
    return pl.concat([_at(frames[name], served) for name in named]) if named else nothing
