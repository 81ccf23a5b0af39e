"""Drop readings of two-digit years in which the car was not yet built."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.feed import FEED
from analytics.records.notation import BETWEEN, UNCERTAIN

if TYPE_CHECKING:
    from analytics.records.mapped import MappedFeed

CARS = "vehicles"
FIRST_YEAR = r"(?:^|\(may be )(\d{4})(?:-|$| )"
"""A year of building as it is written, or the earlier one of two that it may be."""


def within_lives(mapped: MappedFeed) -> MappedFeed:
    """Return the feed with those readings of a two-digit year that are not before its car was built.

    Parameters
    ----------
    mapped
        The feed; days with two-digit years, of which nobody stated the century, are followed by both readings.

    Notes
    -----
    Of 03.05.24 on a car built in 1962 one reading is left. Readings after the day of loading are dropped by the judge,
    who alone knows that day; where two are left after both, the day is not certain and is not read.
    """
    cars = mapped.tables.get(CARS)
    if cars is None or not {"vehicle_id", "built_on"} <= {*cars.columns}:
        return mapped
    built = cars.select(
        pl.col("vehicle_id").str.strip_chars(), built=pl.col("built_on").str.extract(FIRST_YEAR).cast(pl.Int64)
    )
    earliest = built.drop_nulls().group_by("vehicle_id").agg(pl.col("built").min())
    tables = {name: _later(name, frame, earliest) for name, frame in mapped.tables.items()}
    return replace(mapped, tables=tables)


def _later(name: str, frame: pl.DataFrame, earliest: pl.DataFrame) -> pl.DataFrame:
    days = [
        column.name
        for column in FEED[name].columns
        if column.kind == "date"
        and column.name in frame.columns
        and frame[column.name].str.contains(BETWEEN, literal=True).any()
    ]
    if not days or name == CARS or "vehicle_id" not in frame.columns:
        return frame
    car = pl.col("vehicle_id").str.strip_chars().replace_strict(
        earliest["vehicle_id"], earliest["built"], default=None, return_dtype=pl.Int64
    )  # fmt: skip
    return frame.with_columns(_without_early(pl.col(day), car).alias(day) for day in days)


def _without_early(day: pl.Expr, built: pl.Expr) -> pl.Expr:
    """Leave out the first reading where its year is before the year of building."""
    first = day.str.extract(rf"\{UNCERTAIN} (\d{{4}})-\S+ or ").cast(pl.Int64)
    shorter = day.str.replace(rf"\{UNCERTAIN} \S+ or ", f"{UNCERTAIN} ")
    return pl.when(first < built).then(shorter).otherwise(day)
