"""Accepted readings of all cars as arrays, and where a day falls among those of its car."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

SPAN = 10_000_000
"""One sorted key for car and day, wide enough for every date there is."""
NO_DAY = -1_000_000
"""No day of any record."""


@dataclass(frozen=True, slots=True)
class Marks:
    """The accepted readings of all cars as arrays, and by number of the car what its clock needs.

    Attributes
    ----------
    key
        Car and day of every reading as one rising number, shape ``(readings,)``.
    day, km
        Days since 1970-01-01 and total km of every reading, shape ``(readings,)``.
    first, end
        Where the readings of a car begin and end, shape ``(cars,)``.
    rate
        km per year, NaN where not known, shape ``(cars,)``.
    origin
        Day from which the total counts, `NO_DAY` where not known, shape ``(cars,)``.
    """

    key: NDArray[np.int64]
    day: NDArray[np.float64]
    km: NDArray[np.float64]
    first: NDArray[np.int64]
    end: NDArray[np.int64]
    rate: NDArray[np.float64]
    origin: NDArray[np.int64]


def marks_of(point: pl.DataFrame, rate: pl.DataFrame, origin: pl.DataFrame) -> Marks:
    """Return readings, rates and days of building as arrays.

    Parameters
    ----------
    point, rate, origin
        As in `analytics.spells.clocks.Clock`; a car's number is its row in `rate`.
    """
    number = rate.select("vehicle_id").with_row_index("car").with_columns(pl.col("car").cast(pl.Int64))
    held = point.join(number, on="vehicle_id", how="inner").sort("car", "day")
    car, day = held["car"].to_numpy(), held["day"].to_numpy()
    built = number.join(origin, on="vehicle_id", how="left", maintain_order="left")["day"]
    numbers = np.arange(rate.height)
    return Marks(
        key=car * SPAN + day,
        day=day.astype(np.float64),
        km=held["km"].to_numpy().astype(np.float64),
        first=np.searchsorted(car, numbers, side="left"),
        end=np.searchsorted(car, numbers, side="right"),
        rate=rate["km_per_year"].fill_null(np.nan).to_numpy(),
        origin=built.fill_null(NO_DAY).to_numpy(),
    )


class Places:
    """Where each asked day falls among the accepted readings of its car; NaN where the car has none.

    Parameters
    ----------
    mark
        The accepted readings.
    car
        Number of the car, shape ``(n,)``.
    day
        Days since 1970-01-01, shape ``(n,)``.
    """

    def __init__(self, mark: Marks, car: NDArray[np.int64], day: NDArray[np.int64]) -> None:
        self._mark, self._day = mark, day
        self._after = np.searchsorted(mark.key, car * SPAN + day, side="right")
        self._first, self._end = mark.first[car], mark.end[car]
        self._known = self._end > self._first
        self.last_km = self._take(mark.km, self._end - 1)
        self.days_ahead = np.nan_to_num(day - self._take(mark.day, self._end - 1), nan=0.0)

    def _take(self, values: NDArray[np.float64], place: NDArray[np.int64]) -> NDArray[np.float64]:
        if values.size == 0:
            return np.full(place.shape, np.nan)
        return np.where(self._known, values[np.clip(place, 0, values.size - 1)], np.nan)

    def reach(self) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """Return the days of the car's first and last reading; the asked day itself where it has none."""
        if self._mark.day.size == 0:
            return self._day, self._day
        ends = [self._take(self._mark.day, place) for place in (self._first, self._end - 1)]
        first, last = (np.where(self._known, day, self._day).astype(np.int64) for day in ends)
        return first, last

    @property
    def first_km(self) -> NDArray[np.float64]:
        """Km of the car's first reading."""
        return self._take(self._mark.km, self._first)

    def between(self) -> NDArray[np.float64]:
        """Return the km between the car's first and last reading, NaN outside."""
        left, right = self._after - 1, np.minimum(self._after, self._end - 1)
        inside = self._known & (left >= self._first) & (self.days_ahead <= 0)
        day_left, day_right = (self._take(self._mark.day, place) for place in (left, right))
        km_left, km_right = (self._take(self._mark.km, place) for place in (left, right))
        step = np.where(day_right > day_left, day_right - day_left, 1.0)
        km = km_left + (self._day - day_left) / step * (km_right - km_left)
        return np.where(inside, km, np.nan)
