"""Which cars a part fits: by series, by serial, and where that is not known by the day the car was built."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.serials import serial_key

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Codes = NDArray[np.int8]

NO, YES, UNKNOWN = 0, 1, 2
"""Whether a row of the parts list fits a car."""

NO_LIMIT, BY_SERIES, BY_SERIAL, BY_BUILD_DATE, BY_NOTHING = range(5)
"""What tells it, by place in `analytics.fitting.TOLD_BY`."""

EPOCH = date(1970, 1, 1)
BARE_YEAR_DAYS = 183
"""A build date that was filled in may be so many days off: a bare year stands for its middle (rule 1)."""

BOUNDS = ("before_from", "since_from", "until_to", "after_to")


@dataclass(frozen=True, slots=True)
class Fits:
    """Which row of the parts list fits which car.

    Attributes
    ----------
    vehicle_id
        The cars, sorted.
    code
        Shape ``(rows, cars)``: `NO`, `YES` or `UNKNOWN`.
    by
        Shape ``(rows, cars)``: what tells it, a place in `analytics.fitting.TOLD_BY`.
    bounds
        `before_from`, `since_from`, `until_to`, `after_to` of each row, as snapshot table ``part_fit`` has them.
    """

    vehicle_id: pl.Series
    code: Codes
    by: Codes
    bounds: pl.DataFrame

    def taking(self, rows: NDArray[np.int64]) -> Flags:
        """Return the cars that one of the rows fits or may fit, ``(cars,)``."""
        return np.asarray((self.code[rows] != NO).any(axis=0))


def fits_of(parts: pl.DataFrame, vehicles: pl.DataFrame) -> Fits:
    """Return which rows of the parts list fit which cars.

    Parameters
    ----------
    parts
        Feed table ``parts``; `series`, `serial_from` and `serial_to` may be missing.
    vehicles
        `vehicle_id`, `series`; also `serial`, `built_on`, `inferred` where known.

    Notes
    -----
    A car without a serial is told by its build date: serials and build dates rise together, so that a car built no
    later than one whose serial comes before the range comes before it as well. What lies between the last such car and
    the first of the range cannot be told. Where the cars of the records contradict each other more is left open.
    """
    cars = _Cars(vehicles)
    columns = [
        pl.col(name) if name in parts.columns else pl.lit(None, dtype=pl.String).alias(name)
        for name in ("series", "serial_from", "serial_to")
    ]
    limits = list(parts.select(columns).iter_rows())
    known = {limit: _fit(cars, *limit) for limit in dict.fromkeys(limits)}  # rows of a parts list share few ranges
    code = np.array([known[limit][0] for limit in limits], dtype=np.int8).reshape(len(limits), cars.count)
    by = np.array([known[limit][1] for limit in limits], dtype=np.int8).reshape(len(limits), cars.count)
    bounds = pl.DataFrame([known[limit][2] for limit in limits], schema=dict.fromkeys(BOUNDS, pl.Date), orient="row")
    return Fits(cars.vehicle_id, code, by, bounds)


class _Cars:
    """What is known of the cars, by row."""

    def __init__(self, vehicles: pl.DataFrame) -> None:
        rows = vehicles.sort("vehicle_id")
        self.vehicle_id = rows["vehicle_id"]
        self.count = rows.height
        self._rows = rows
        self.series = np.array([text or "" for text in rows["series"]], dtype=np.str_)

    def _column(self, name: str, dtype: type[pl.DataType]) -> pl.Series:
        return self._rows[name] if name in self._rows.columns else pl.Series([None] * self.count, dtype=dtype)

    @cached_property
    def serial(self) -> tuple[NDArray[np.str_], NDArray[np.int64], Flags]:
        """Return leading texts and numbers of the serials, and which cars have one."""
        told = self._column("serial", pl.String)
        keys = [serial_key(text) if text else ("", 0) for text in told]
        # a number of more than 18 figures is no serial of a car
        number = [min(value, 10**18) for _, value in keys]
        return np.array([text for text, _ in keys], np.str_), np.array(number, np.int64), told.is_not_null().to_numpy()

    @cached_property
    def built(self) -> tuple[Floats, Floats]:
        """Return first and last day on which each car may have been built, days since 1970-01-01; NaN = not known."""
        day = self._column("built_on", pl.Date).cast(pl.Int32).cast(pl.Float64)
        filled = self._column("inferred", pl.String).fill_null("").str.contains("built_on", literal=True)
        off = np.where(filled.to_numpy(), float(BARE_YEAR_DAYS), 0.0)
        middle = day.fill_null(float("nan")).to_numpy()
        return middle - off, middle + off


def _fit(
    cars: _Cars, series: str | None, first: str | None, last: str | None
) -> tuple[Codes, Codes, tuple[date | None, ...]]:
    """Return code and what tells it for one range, and its bounds by build date."""
    of_series = np.ones(cars.count, bool) if series is None else cars.series == series
    if first is None and last is None:
        told = np.full(cars.count, NO_LIMIT if series is None else BY_SERIES, np.int8)
        return of_series.astype(np.int8), told, (None,) * len(BOUNDS)
    text, _, has = cars.serial
    texts = [serial_key(end)[0] for end in (first, last) if end is not None]
    by_serial = has & np.isin(text, texts)
    inside = np.ones(cars.count, bool)
    edges: list[tuple[float, float]] = []
    early, late = np.zeros(cars.count, bool), np.ones(cars.count, bool)
    for end, at_start in ((first, True), (last, False)):
        if end is None:
            edges.append((np.nan, np.nan))
            continue
        before = _before(cars, end, at_or=not at_start)
        inside &= ~before if at_start else before
        edge = _edge(cars, before, by_serial & of_series)
        edges.append(edge)
        starts, ends = cars.built
        with np.errstate(invalid="ignore"):
            below, above = ends <= edge[0], starts >= edge[1]
        early |= below if at_start else above
        late &= above if at_start else below
    code = np.where(by_serial, inside, np.where(early, NO, np.where(late, YES, UNKNOWN))).astype(np.int8)
    told = np.where(by_serial, BY_SERIAL, np.where(code == UNKNOWN, BY_NOTHING, BY_BUILD_DATE)).astype(np.int8)
    code, told = np.where(of_series, code, NO).astype(np.int8), np.where(of_series, told, BY_SERIES).astype(np.int8)
    return code, told, tuple(_as_date(day) for edge in edges for day in edge)


def _before(cars: _Cars, end: str, *, at_or: bool) -> Flags:
    """Return which serials come before an end, or are it."""
    text, number, _ = cars.serial
    end_text, end_number = serial_key(end)
    below = number <= end_number if at_or else number < end_number
    return np.asarray((text < end_text) | ((text == end_text) & below))


def _edge(cars: _Cars, before: Flags, told: Flags) -> tuple[float, float]:
    """Return up to which build date cars come before an end, and from which on after it; NaN = not known."""
    starts, ends = cars.built
    dated = told & ~np.isnan(starts)
    latest = starts[dated & before].max(initial=-np.inf)
    earliest = ends[dated & ~before].min(initial=np.inf)
    until, since = min(latest, earliest - 1), max(earliest, latest + 1)
    return until if np.isfinite(until) else np.nan, since if np.isfinite(since) else np.nan


def _as_date(day: float) -> date | None:
    return None if np.isnan(day) else EPOCH + timedelta(days=int(day))
