"""The car's distance on any day: odometer figures judged, joined up and carried on."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.scales import DAYS_PER_YEAR
from analytics.spells.cleaning import CONVERTED, SET_ASIDE, clean
from analytics.spells.marks import Marks, Places, marks_of
from analytics.spells.odometer import cars_of, figures_of, sort_figures
from analytics.spells.use_rate import use_rates

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

STATED = "used: stated at the repair, not on the car's clock"
"""Verdict on a figure that is right for the unit repaired and does not bend the car's clock."""

HALF_A_YEAR = 183
"""Days before and after a failure over which a car's driving is taken."""

READING_SCHEMA = {
    "vehicle_id": pl.String,
    "read_on": pl.Date,
    "seen_at": pl.String,
    "odometer": pl.Float64,
    "odometer_unit": pl.String,
    "stated": pl.Boolean,
}
"""Columns of the readings handed in; `stated` tells a repair line's figure from a separate reading."""

VEHICLE_SCHEMA = {
    "vehicle_id": pl.String,
    "series": pl.String,
    "built_on": pl.Date,
    "odometer_digits": pl.Int64,
    "trusted": pl.Boolean,
}
"""Columns of the cars handed in; `trusted` is rule 30's."""

EXCHANGE_SCHEMA = {"vehicle_id": pl.String, "day": pl.Date}
"""Columns of the recorded exchanges of an instrument."""


@dataclass(frozen=True, slots=True)
class Clock:
    """Total distance of every car over time.

    Attributes
    ----------
    reading
        One row per figure handed in: vehicle_id, read_on, seen_at, odometer, odometer_unit, total_km (null where
        set aside), verdict, stated.
    point
        The accepted readings, one row per car and day: vehicle_id, day (since 1970-01-01), km; sorted.
    rate
        One row per car, as `use_rates` returns it.
    origin
        Cars whose total counts from building: vehicle_id, day (of building, since 1970-01-01).
    carry_on_days
        Days for which a clock is carried on past its last reading.
    mark
        Readings, rates and days of building as arrays, by number of the car.
    """

    reading: pl.DataFrame
    point: pl.DataFrame
    rate: pl.DataFrame
    origin: pl.DataFrame
    carry_on_days: int
    mark: Marks

    def cars(self, vehicle_ids: pl.Series) -> NDArray[np.int64]:
        """Return the number of each car, as `km_of` takes it; -1 for a car without a clock.

        Parameters
        ----------
        vehicle_ids
            Cars, shape ``(n,)``.
        """
        number = self.rate.select("vehicle_id").with_row_index("car")
        found = vehicle_ids.to_frame("vehicle_id").join(number, on="vehicle_id", how="left", maintain_order="left")
        return found["car"].cast(pl.Int64).fill_null(-1).to_numpy()

    def km_at(self, vehicle_ids: pl.Series, days: pl.Series) -> pl.Series:
        """Return the total km of each car on each day (rule 29).

        Parameters
        ----------
        vehicle_ids
            Cars, shape ``(n,)``.
        days
            Dates, shape ``(n,)``; null gives null.

        Returns
        -------
        polars.Series
            Whole km, shape ``(n,)``: linear between accepted readings; past the last one at the car's shrunken
            rate for at most ``carry_on_days``; 0 on the day of building where the total is trusted; else null.
        """
        return self.km_of(self.cars(vehicle_ids), days)

    def km_of(self, cars: NDArray[np.int64], days: pl.Series) -> pl.Series:
        """Return the same as `km_at`, for cars by number.

        Parameters
        ----------
        cars
            As `cars` returns them, shape ``(n,)``.
        days
            Dates, shape ``(n,)``; null gives null.
        """
        km = np.full(cars.size, np.nan)
        # of some ends only few rows have a day
        told = np.flatnonzero(days.is_not_null().to_numpy() & (cars >= 0))
        car, day = cars[told], _ordinals(days.gather(told))
        km[told] = self._km(car, day)
        return _whole(km)

    def _km(self, car: NDArray[np.int64], day: NDArray[np.int64]) -> NDArray[np.float64]:
        place = Places(self.mark, car, day)
        km = place.between()
        ahead = place.last_km + self.mark.rate[car] * place.days_ahead / DAYS_PER_YEAR
        carried = (place.days_ahead > 0) & (place.days_ahead <= self.carry_on_days)
        km = np.where(carried, ahead, km)
        return np.where(np.isnan(km) & (self.mark.origin[car] == day), 0.0, km)

    def km_per_year(self, cars: NDArray[np.int64], days: pl.Series) -> pl.Series:
        """Return how far each car was driven in the year around a day.

        Parameters
        ----------
        cars
            As `cars` returns them, shape ``(n,)``.
        days
            Dates, shape ``(n,)``; null gives null.

        Returns
        -------
        polars.Series
            km per year, above 0: between half a year before and half a year after, as far as the clock reaches; where
            that is less than half a year, the car's shrunken rate. Null where there is neither.

        Notes
        -----
        A whole year, because season and the days between two close readings would rule a shorter one. A car that did
        not move counts as driven 1 km.
        """
        rate = np.full(cars.size, np.nan)
        told = np.flatnonzero(days.is_not_null().to_numpy() & (cars >= 0))
        car, day = cars[told], _ordinals(days.gather(told))
        first, last = Places(self.mark, car, day).reach()
        begin = np.maximum(day - HALF_A_YEAR, first)
        finish = np.minimum(day + HALF_A_YEAR, last + self.carry_on_days)
        driven = np.maximum(self._km(car, finish) - self._km(car, begin), 1.0)
        span = np.where(finish - begin >= HALF_A_YEAR, finish - begin, np.nan)
        around = driven * DAYS_PER_YEAR / span
        rate[told] = np.where(np.isnan(around), self.mark.rate[car], around)
        return pl.Series(rate).fill_nan(None)

    def nearest_km(self, vehicle_ids: pl.Series, days: pl.Series) -> pl.Series:
        """Return the total km on the day, or at the reading nearest to it where the clock does not reach.

        Parameters
        ----------
        vehicle_ids
            Cars that have a clock, shape ``(n,)``.
        days
            Dates, shape ``(n,)``.
        """
        place = Places(self.mark, self.cars(vehicle_ids), _ordinals(days))
        km = np.where(place.days_ahead > 0, place.last_km, place.between())
        return _whole(np.where(np.isnan(km), place.first_km, km))


def clocks(
    readings: pl.DataFrame,
    vehicles: pl.DataFrame,
    as_of: date,
    parameters: Parameters | None = None,
    exchanged: pl.DataFrame | None = None,
) -> Clock:
    """Judge every odometer figure read by the as-of day and join the accepted ones up to clocks.

    Parameters
    ----------
    readings
        Columns of `READING_SCHEMA`; figures dated later than `as_of` do not exist yet (rule 6).
    vehicles
        Columns of `VEHICLE_SCHEMA`, one row per car.
    as_of
        The as-of day.
    parameters
        Named defaults.
    exchanged
        Columns of `EXCHANGE_SCHEMA`: days on which an instrument was exchanged.

    Returns
    -------
    Clock
        With every figure in `Clock.reading` as used, converted or set aside, and why.

    Notes
    -----
    A figure stated at a repair and contradicted by separate readings only is taken as the better witness of the
    unit repaired: it keeps its total, marked, if the clock comes within ``carry_on_months`` of usual driving of
    it, and does not bend the clock.
    """
    parameters = parameters or Parameters()
    cars = vehicles.sort("vehicle_id")
    rows = sort_figures(readings.filter(pl.col("read_on") <= as_of), cars)
    figures = figures_of(rows)
    known = (pl.DataFrame(schema=EXCHANGE_SCHEMA) if exchanged is None else exchanged).join(
        cars.with_row_index("car"), on="vehicle_id", how="inner"
    )
    exchanges = (
        known["car"].cast(pl.Int64).to_numpy(),
        known["day"].cast(pl.Int32).cast(pl.Int64).to_numpy(),
    )
    facts = cars_of(rows, cars, parameters)
    clean(figures, facts, exchanges, parameters)
    judged = rows.with_columns(
        total=pl.Series(figures.total),
        kept=pl.Series(figures.kept),
        opposed=pl.Series(figures.opposed),
        marks=pl.Series(figures.marks),
        why=pl.Series(figures.verdict),
        usual=pl.Series(facts.rate[figures.car] * DAYS_PER_YEAR),
    )
    point = _points(judged)
    rate = use_rates(point, cars, parameters)
    origin = cars.filter(pl.col("trusted") & pl.col("built_on").is_not_null()).select(
        "vehicle_id", day=pl.col("built_on").cast(pl.Int32).cast(pl.Int64)
    )
    clock = Clock(
        reading=pl.DataFrame(),
        point=point,
        rate=rate,
        origin=origin,
        carry_on_days=int(parameters.carry_on_months * DAYS_PER_YEAR / 12),
        mark=marks_of(point, rate, origin),
    )
    return replace(clock, reading=_verdicts(judged, clock))


def _points(judged: pl.DataFrame) -> pl.DataFrame:
    """Return the kept totals, one per car and day, in whole km and never falling."""
    return (
        judged.filter("kept")
        .group_by("vehicle_id", "day")
        .agg(km=pl.col("total").max().round().cast(pl.Int64))
        .sort("vehicle_id", "day")
        .with_columns(pl.col("km").cum_max().over("vehicle_id"))
    )


def _verdicts(judged: pl.DataFrame, clock: Clock) -> pl.DataFrame:
    shrunken = judged.join(clock.rate, on="vehicle_id", how="left", maintain_order="left")["km_per_year"]
    rate = shrunken.fill_null(judged["usual"])
    off = (judged["total"] - clock.nearest_km(judged["vehicle_id"], judged["read_on"])).abs()
    near = off <= rate * clock.carry_on_days / DAYS_PER_YEAR
    reasons = pl.concat_str(
        [
            pl.when(pl.col("marks") & mark > 0).then(pl.lit(f", {words}")).otherwise(pl.lit(""))
            for mark, words in CONVERTED.items()
        ]
    ).str.strip_prefix(", ")
    return (
        judged.with_columns(stands=pl.col("stated") & pl.col("opposed") & ~pl.col("kept") & near.fill_null(value=False))
        .with_columns(
            verdict=pl.when("stands")
            .then(pl.lit(STATED))
            .when(~pl.col("kept"))
            .then("set aside: " + pl.col("why").replace_strict(SET_ASIDE, default="", return_dtype=pl.String))
            .when(pl.col("marks") > 0)
            .then("converted: " + reasons)
            .otherwise(pl.lit("used")),
            total_km=pl.when(pl.col("kept") | pl.col("stands")).then(pl.col("total").round()),
        )
        .select("vehicle_id", "read_on", "seen_at", "odometer", "odometer_unit", "total_km", "verdict", "stated")
        .sort("vehicle_id", "read_on", "seen_at")
    )


def _whole(km: NDArray[np.float64]) -> pl.Series:
    return pl.Series(km).fill_nan(None).round().cast(pl.Int64)


def _ordinals(days: pl.Series) -> NDArray[np.int64]:
    return days.cast(pl.Date).cast(pl.Int32).cast(pl.Int64).to_numpy()
