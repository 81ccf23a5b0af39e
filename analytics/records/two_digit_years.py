"""Drop readings of two-digit years in which the car was not yet built."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.feed import FEED
from analytics.records.known import BUILT
from analytics.records.notation import BETWEEN, UNCERTAIN
from analytics.records.parts import Tables, changed, rows_of

if TYPE_CHECKING:
    from analytics.records.known import Known
    from analytics.records.mapped import MappedFeed
    from analytics.records.parts import Rows

CARS = "vehicles"
FIRST_YEAR = r"(?:^|\(may be )(\d{4})(?:-|$| )"
"""A year of building as it is written, or the earlier one of two that it may be."""


def within_lives(mapped: MappedFeed, known: Known) -> MappedFeed:
    """Return the feed with those readings of a two-digit year that are not before its car was built.

    Parameters
    ----------
    mapped
        The feed; days with two-digit years, of which nobody stated the century, are followed by both readings.
    known
        Tells when cars were built of which the feed does not say it.

    Notes
    -----
    Of 03.05.24 on a car built in 1962 one reading is left. Readings after the day of loading are dropped by the judge,
    who alone knows that day; where two are left after both, the day is not certain and is not read.
    """
    uncertain = {name: days for name in mapped.tables if (days := _uncertain(name, rows_of(mapped.tables, name)))}
    if not uncertain:
        return mapped
    ids = (part.to_series() for name in uncertain for part in rows_of(mapped.tables, name).only(["vehicle_id"]))
    cars = pl.concat([each.str.strip_chars().unique() for each in ids]).unique().drop_nulls()
    own = _own_years(mapped.tables.get(CARS))
    others = known.years_built(cars.filter(~cars.is_in(own["vehicle_id"].implode())))
    earliest = pl.concat([own, others.select(own.columns)])
    car = pl.col("vehicle_id").str.strip_chars().replace_strict(
        earliest["vehicle_id"], earliest["built"], default=None, return_dtype=pl.Int64
    )  # fmt: skip
    rows = {name: rows_of(mapped.tables, name) for name in mapped.tables}
    for name, days in uncertain.items():
        later = [_without_early(pl.col(day), car).alias(day) for day in days]
        rows[name] = changed(rows[name], partial(_with, later))
    return replace(mapped, tables=Tables(rows))


def _with(days: list[pl.Expr], part: pl.DataFrame) -> pl.DataFrame:
    return part.with_columns(days)


def _own_years(cars: pl.DataFrame | None) -> pl.DataFrame:
    """Return the year of building of every car of which the feed itself tells it."""
    if cars is None or not {"vehicle_id", "built_on"} <= {*cars.columns}:
        return pl.DataFrame(schema=BUILT)
    built = cars.select(
        pl.col("vehicle_id").str.strip_chars(), built=pl.col("built_on").str.extract(FIRST_YEAR).cast(pl.Int64)
    )
    return built.drop_nulls().group_by("vehicle_id").agg(pl.col("built").min())


def _uncertain(name: str, rows: Rows) -> list[str]:
    """Return the columns of a table in which a day may lie in one of two centuries, if its rows name cars."""
    if name == CARS or "vehicle_id" not in rows.columns:
        return []
    days = [column.name for column in FEED[name].columns if column.kind == "date"]
    either = pl.all().str.contains(BETWEEN, literal=True).any()
    found = [part.select(either) for part in rows.only(days)]
    return [day for day in days if day in rows.columns and any(each[day].any() for each in found)]


def _without_early(day: pl.Expr, built: pl.Expr) -> pl.Expr:
    """Leave out the first reading where its year is before the year of building."""
    first = day.str.extract(rf"\{UNCERTAIN} (\d{{4}})-\S+ or ").cast(pl.Int64)
    shorter = day.str.replace(rf"\{UNCERTAIN} \S+ or ", f"{UNCERTAIN} ")
    return pl.when(first < built).then(shorter).otherwise(day)
