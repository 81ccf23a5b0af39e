"""Which method foretells the demand of a group: its installed base, or in words why not."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.fits import EPOCH
from analytics.stock.history import by
from analytics.stock.in_care import FAILURES, in_care
from analytics.stock.installed_base import BaseDemand
from analytics.stock.serving import Serving
from analytics.stock.streams import CountedOn, position_uses, streams_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.fits import Fits
    from analytics.stock.history import ActiveCars, Counted, StockRecords
    from analytics.stock.units_in_place import CareRecords

SERIALS = ("serial_from", "serial_to")
NO_BASE = "no unit of it is known to sit in a car"


@dataclass(frozen=True, slots=True)
class Served:
    """A place that a group serves; an empty series or position stands for all, `cars` None for all cars."""

    component: str
    series: str | None
    position: str | None
    cars: NDArray[np.int64] | None


class Methods:
    """Gives each group's demand from its installed base, or says why it has none.

    Parameters
    ----------
    records, care
        As `in_care` takes them; `care` None = nothing is known of units.
    catalogue
        Feed table ``parts`` with `live_no` and `row`, numbers that were used and are not in it among them.
    fits
        Which of its rows fit which cars.
    as_of, parameters
        Last day that counts, and the defaults.
    """

    def __init__(
        self,
        records: StockRecords,
        care: CareRecords | None,
        catalogue: pl.DataFrame,
        fits: Fits,
        as_of: date,
        parameters: Parameters,
    ) -> None:
        self._as_of, self._parameters, self._fits = as_of, parameters, fits
        self._vehicles = records.vehicles.sort("vehicle_id").with_row_index("car")
        self._visits = records.visits.join(records.vehicles.select("vehicle_id"), on="vehicle_id", how="semi")
        self._told, self._invoices = care is not None, records.invoices
        self._care = in_care(records, care, as_of, parameters) if care is not None else None
        if care is None:
            return
        uses = position_uses(records, catalogue.select("part_no", "live_no").unique(), parameters)
        cars = self._vehicles.select("vehicle_id", pl.col("car").cast(pl.Int64))
        faults = care.faults.filter(pl.col("reads_as").is_in(FAILURES)).join(
            cars, on="vehicle_id", how="left", maintain_order="left"
        )
        places = self._care.places.with_row_index("row") if self._care else faults.clear()
        if self._care:
            places = places.with_columns(car=pl.Series(self._care.units.car))
        self._uses, self._no_use = by(uses, "live_no"), uses.clear()
        self._places, self._no_place = by(places, "component"), places.clear()
        self._faults, self._no_fault = by(faults, "component"), faults.clear()
        self._serving = Serving(catalogue, fits)

    def presence(self) -> pl.DataFrame:
        """Return `vehicle_id` and `presence`, the chance that the car is still in care."""
        care = self._care
        if care is None:
            return pl.DataFrame(schema={"vehicle_id": pl.String, "presence": pl.Float64})
        return care.cars.select("vehicle_id", presence=pl.Series(np.minimum(care.q, 1.0)))

    def of_group(
        self, live_no: str, members: pl.DataFrame, counted: Counted, active: ActiveCars, sales: pl.DataFrame
    ) -> BaseDemand | str:
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
        sales
            Its counter sales.
        """
        if "basis" in members.columns and (members["basis"] == "rate").any():
            return "the parts list asks for it"
        if not self._told:
            return NO_BASE
        care = self._care
        uses = self._uses.get(live_no, self._no_use)
        taking = self._taking(members)
        if 0 < self._visits_of(taking) <= uses.select("vehicle_id", "closed_on").n_unique():
            return "its cars are seen only when they take this part"
        if self._invoices and self._carless(uses, sales) > self._parameters.carless_share:
            return f"more than {100 * self._parameters.carless_share:.0f} of 100 of its records name no car"
        if care is None:
            return NO_BASE
        if care.day - care.start < self._parameters.base_years * DAYS_PER_YEAR:
            return f"the records are younger than {self._parameters.base_years:g} years"
        served = self._served(members, uses)
        rows = _rows_at(self._places, served, self._no_place)["row"].to_numpy().astype(np.int64)
        if not care.seen.known[care.units.car[rows]].any():
            return NO_BASE
        named = self._serving.of_group(members)
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
        """Return the cars that one of its numbers fits or may fit."""
        return self._vehicles.filter(pl.Series(self._fits.taking(members["row"].to_numpy())))

    def _served(self, members: pl.DataFrame, uses: pl.DataFrame) -> list[Served]:
        """Return the places a group serves: those of the catalogue, and components on which it was used besides."""
        columns = ("component", "series", "position")
        stated = members.filter(pl.col("component").is_not_null()).select(
            *(
                pl.col(name) if name in members.columns else pl.lit(None, dtype=pl.String).alias(name)
                for name in columns
            ),
            "row",
        )
        limited = pl.any_horizontal(
            pl.lit(value=False), *(pl.col(name).is_not_null() for name in SERIALS if name in members.columns)
        )
        ranged = set(members.filter(limited)["row"])
        found = {
            (component, series, position): None
            for component, series, position, row in stated.iter_rows()
            if row not in ranged
        }
        besides = uses.select("component").unique().join(stated, on="component", how="anti")["component"].drop_nulls()
        found |= dict.fromkeys((component, None, None) for component in besides.sort())
        whole = [Served(*place, None) for place in found]
        return whole + [
            Served(component, series, position, np.flatnonzero(self._fits.code[row]))
            for component, series, position, row in stated.iter_rows()
            if row in ranged and (component, series, position) not in found
        ]

    def _carless(self, uses: pl.DataFrame, sales: pl.DataFrame) -> float:
        """Return the share of a group's invoices, of the years of the pooled rate, that name no car."""
        since = self._as_of - timedelta(days=round(self._parameters.rate_months * DAYS_PER_YEAR / 12))
        without = sales.filter((pl.col("sold_on") > since) & pl.col("vehicle_id").is_null()).height
        known = uses.filter(pl.col("closed_on") > since).height
        return without / max(without + known, 1)

    def _visits_of(self, taking: pl.DataFrame) -> int:
        return self._visits.join(taking.select("vehicle_id"), on="vehicle_id", how="semi").height


def _at(frame: pl.DataFrame, served: list[Served]) -> pl.DataFrame:
    """Return the rows at places served; an empty series or position stands for all."""
    fits = []
    for place in served:
        fit = pl.col("component") == place.component
        for column, value in (("series", place.series), ("position", place.position)):
            fit = fit if value is None else fit & (pl.col(column) == value)
        fits.append(fit if place.cars is None else fit & pl.col("car").is_in(place.cars.tolist()))
    return frame.filter(pl.any_horizontal(pl.lit(value=False), *fits))


def _rows_at(frames: dict[str, pl.DataFrame], served: list[Served], nothing: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of each component's frame at places served."""
    named = sorted({place.component for place in served} & frames.keys())
    return (
        pl.concat([_at(frames[name], [p for p in served if p.component == name]) for name in named])
        if named
        else nothing
    )
