"""Odometer figures of all cars as one sorted sequence of arrays, and what may follow what."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR, KM_PER_MILE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

HALF_KM = 0.5
"""Figures that differ by less than this are the same whole kilometre."""


APART = (1, 2, 3)
"""Between which figures rises are measured for a car's usual rate."""


@dataclass(frozen=True, slots=True)
class Cars:
    """What is known of each car before its odometer is judged; arrays of shape ``(cars,)``.

    Attributes
    ----------
    digits
        Whole-unit digits of the odometer, 0 where not known.
    rate
        Median rate of the car, else of the fleet, else 0. km per day.
    limit
        Fastest plausible driving. km per day.
    """

    digits: NDArray[np.int64]
    rate: NDArray[np.float64]
    limit: NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Figures:
    """Odometer figures, sorted by car and day; arrays of shape ``(figures,)``.

    From `scale` on the arrays are the state of the cleaning and are written in place.

    Attributes
    ----------
    car
        Index into `Cars`.
    day
        Days since 1970-01-01.
    shown
        The figure as recorded, in its own unit.
    unit_km
        km in one of that unit.
    stated
        Whether a repair line stated it, false for a separate reading.
    scale, shift
        Total km = shown * unit_km * scale + shift.
    kept
        Whether it is on the car's clock.
    opposed
        Whether it was set aside against separate readings only, never against another repair's figure.
    marks
        What was converted, the sum of keys of `cleaning.CONVERTED`.
    verdict
        0 while kept, else a key of `cleaning.SET_ASIDE`.
    """

    car: NDArray[np.int64]
    day: NDArray[np.int64]
    shown: NDArray[np.float64]
    unit_km: NDArray[np.float64]
    stated: NDArray[np.bool_]
    scale: NDArray[np.float64]
    shift: NDArray[np.float64]
    kept: NDArray[np.bool_]
    opposed: NDArray[np.bool_]
    marks: NDArray[np.int64]
    verdict: NDArray[np.int64]

    @property
    def total(self) -> NDArray[np.float64]:
        """Total km of every figure as it now reads."""
        return self.shown * self.unit_km * self.scale + self.shift


def sort_figures(readings: pl.DataFrame, vehicles: pl.DataFrame) -> pl.DataFrame:
    """Return the figures with the car's index and km per unit, sorted by car, day and size.

    Parameters
    ----------
    readings
        vehicle_id, read_on, seen_at, odometer, odometer_unit (``mi``, else km), stated.
    vehicles
        One row per car, in the order of the indices wanted.
    """
    index = vehicles.select("vehicle_id").with_row_index("car").with_columns(pl.col("car").cast(pl.Int64))
    return (
        readings.join(index, on="vehicle_id", how="inner")
        .with_columns(
            unit_km=pl.when(pl.col("odometer_unit") == "mi").then(KM_PER_MILE).otherwise(1.0),
            day=pl.col("read_on").cast(pl.Int32).cast(pl.Int64),
        )
        .with_columns(km=pl.col("odometer") * pl.col("unit_km"))
        .sort("car", "day", "km", "stated", "seen_at")
    )


def figures_of(rows: pl.DataFrame) -> Figures:
    """Return the sorted figures as arrays, nothing judged yet."""
    size = rows.height
    return Figures(
        car=rows["car"].to_numpy(),
        day=rows["day"].to_numpy(),
        shown=rows["odometer"].cast(pl.Float64).to_numpy(),
        unit_km=rows["unit_km"].to_numpy(),
        stated=rows["stated"].to_numpy(),
        scale=np.ones(size),
        shift=np.zeros(size),
        kept=np.ones(size, dtype=np.bool_),
        opposed=np.zeros(size, dtype=np.bool_),
        marks=np.zeros(size, dtype=np.int64),
        verdict=np.zeros(size, dtype=np.int64),
    )


def cars_of(rows: pl.DataFrame, vehicles: pl.DataFrame, parameters: Parameters) -> Cars:
    """Return digits, median rate and fastest plausible rate of every car.

    The limit is set by the median rise between neighbours. The usual rate is the median over the rises between
    figures one, two and three apart: of few figures one wrong one would spoil half of those between neighbours.

    Parameters
    ----------
    rows
        As `sort_figures` returns them.
    vehicles
        vehicle_id and odometer_digits, one row per car.
    parameters
        ``jump_km_per_year``, ``jump_times_own``.
    """
    least = parameters.jump_km_per_year / DAYS_PER_YEAR
    # two rises can both be wrong; then only the general limit judges the car
    medians = (
        _rises(rows, 1).group_by("car").agg(own=pl.col("slope").median(), rises=pl.len()).filter(pl.col("rises") >= 3)
    )
    indexed = vehicles.with_row_index("car").with_columns(pl.col("car").cast(pl.Int64))
    limits = indexed.join(medians, on="car", how="left").select(
        "car", "odometer_digits", limit=pl.max_horizontal(pl.lit(least), parameters.jump_times_own * pl.col("own"))
    )
    rises = pl.concat([_rises(rows, apart) for apart in APART])
    plausible = rises.join(limits, on="car").filter(pl.col("slope") <= pl.col("limit"))
    usual = pl.lit(plausible["slope"].median(), dtype=pl.Float64)
    cars = (
        limits.join(plausible.group_by("car").agg(rate=pl.col("slope").median()), on="car", how="left")
        .with_columns(pl.col("rate").fill_null(usual).fill_null(0.0))
        .sort("car")
    )
    digits = cars["odometer_digits"].cast(pl.Int64).fill_null(0)
    return Cars(digits.to_numpy(), cars["rate"].to_numpy(), cars["limit"].to_numpy())


def _rises(rows: pl.DataFrame, apart: int) -> pl.DataFrame:
    """Return car and slope (km per day) of every rise between figures so many apart."""
    slope = pl.col("km").diff(apart).over("car") / pl.col("day").diff(apart).over("car")
    return rows.select("car", slope=slope).filter(pl.col("slope").is_finite() & (pl.col("slope") > 0))


def follows(
    earlier: NDArray[np.float64],
    later: NDArray[np.float64],
    days: NDArray[np.int64],
    limit: NDArray[np.float64],
    grace: int,
) -> NDArray[np.bool_]:
    """Return whether a total can come so many days after another: no fall, no impossible jump.

    Parameters
    ----------
    earlier, later
        Total km.
    days
        Days between the two.
    limit
        Fastest plausible driving, km per day.
    grace
        Days added to `days`, so that a long drive between two near readings is no jump.
    """
    rise = later - earlier
    return (rise >= -HALF_KM) & (rise <= limit * (days + grace))
