"""Which part fits this car, which look-alike does not, and which records show a part on a car it does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.fitting import EVERY_PLACE, TOLD_BY, answers, in_words, look_alikes, may_fit
from analytics.stock.fits import BOUNDS, NO, YES, Fits

if TYPE_CHECKING:
    from datetime import date

    from analytics.stock.history import StockRecords

PLACE = ("vehicle_id", "component", "position")


@dataclass(frozen=True, slots=True)
class FitTables:
    """Snapshot tables of these names."""

    part_fit: pl.DataFrame
    part_for_car: pl.DataFrame
    part_misfit: pl.DataFrame


def fit_tables(records: StockRecords, catalogue: pl.DataFrame, fits: Fits, as_of: date) -> FitTables:
    """Return which part fits which car, and the order lines that show another one.

    Parameters
    ----------
    records
        Lines and cars up to the as-of day.
    catalogue
        Feed table ``parts`` with `live_no`, `row` and `listed`, false for numbers that it does not hold.
    fits
        As from `fits_of`, of these rows and cars.
    as_of
        A car that left by then needs no part.
    """
    rows = _rows(catalogue)
    listed = rows.with_columns(fits.bounds).filter("listed")
    pairs = look_alikes(rows)
    every = _may_fit(rows, fits)
    staying = records.vehicles.filter(pl.col("left_on").is_null() | (pl.col("left_on") > as_of)).select("vehicle_id")
    return FitTables(
        _part_fit(listed),
        answers(every.join(staying, on="vehicle_id", how="semi"), pairs, PLACE),
        _misfits(records, rows, fits, every, pairs),
    )


def _rows(catalogue: pl.DataFrame) -> pl.DataFrame:
    """Return the rows with every column that is asked for, their number, and the cars they fit in words."""
    texts = ("position", "series", "serial_from", "serial_to", "looks_like")
    missing = [pl.lit(None, dtype=pl.String).alias(name) for name in texts if name not in catalogue.columns]
    return in_words(catalogue.with_columns(missing))


def _part_fit(listed: pl.DataFrame) -> pl.DataFrame:
    key = ("part_no", "live_no", "component", "position", "series", "serial_from", "serial_to")
    return listed.select(*key, *BOUNDS, "looks_like").filter(pl.col("component").is_not_null())


def _may_fit(rows: pl.DataFrame, fits: Fits) -> pl.DataFrame:
    """Return one row per car, component, position and number that fits or may fit it: `sure`, `told_by`, ..."""
    row, car = np.nonzero(fits.code != NO)
    found = pl.DataFrame(
        {
            "row": row.astype(np.int64),
            "vehicle_id": fits.vehicle_id.gather(car),
            "sure": fits.code[row, car] == YES,
            "by": fits.by[row, car],
        }
    )
    described = rows.filter("listed").select("row", "part_no", "live_no", "component", "position", "range")
    return may_fit(found.join(described, on="row", how="inner").sort("row"), PLACE)


def _misfits(
    records: StockRecords, rows: pl.DataFrame, fits: Fits, every: pl.DataFrame, pairs: pl.DataFrame
) -> pl.DataFrame:
    """Return snapshot table ``part_misfit``: lines that fitted a listed number to a car that none of its rows fits."""
    wanted = {"line_id", "position"} - set(records.lines.columns)
    if wanted:
        return pl.DataFrame()
    listed = rows.filter("listed")
    lines = (
        records.lines.filter("part_used")
        .join(listed.select("part_no").unique(), on="part_no", how="semi")
        .join(every.select("part_no", "vehicle_id").unique(), on=["part_no", "vehicle_id"], how="anti")
        .join(fits.vehicle_id.to_frame().with_row_index("car"), on="vehicle_id", how="inner")
        .select("line_id", "vehicle_id", "car", "closed_on", "position", "part_no")
    )
    of_part = listed.select("row", "part_no", "component", "range")
    at = lines.join(of_part, on="part_no", how="inner")
    by = fits.by[at["row"].to_numpy(), at["car"].to_numpy()]
    of_line = (
        at.with_columns(by=pl.Series(by, dtype=pl.Int8))
        .sort("line_id", "row")
        .group_by("line_id", maintain_order=True)
        .agg(
            pl.col("by").max(),
            component=pl.col("component").first(),
            fits_range=pl.col("range").unique(maintain_order=True).str.join("; "),
        )
    )
    found = lines.join(of_line, on="line_id", how="inner")
    instead = (
        found.join(every.filter("sure"), on=["vehicle_id", "component"], how="inner", suffix="_fits")
        .filter(
            (pl.col("position_fits") == EVERY_PLACE)
            | pl.col("position").is_null()
            | (pl.col("position") == pl.col("position_fits"))
        )
        .select("line_id", "part_no", other="part_no_fits")
        .unique()
    )
    same_look = instead.join(pairs, on=["part_no", "other"], how="semi").select("line_id").unique()
    named = instead.group_by("line_id").agg(fits_instead=pl.col("other").sort().str.join("; "))
    told = found.join(named, on="line_id", how="left").with_columns(
        looks_alike=pl.col("line_id").is_in(same_look["line_id"].to_list()),
        told_by=pl.col("by").replace_strict(dict(enumerate(TOLD_BY)), return_dtype=pl.String),
    )
    key = ("vehicle_id", "closed_on", "component", "position", "part_no", "told_by", "fits_range", "fits_instead")
    return told.select(pl.col("line_id").alias("record"), *key, "looks_alike", says=_outside()).sort("record")


def _outside() -> pl.Expr:
    head = pl.format("{} fits {}, and this car is outside of it by its {}", "part_no", "fits_range", "told_by")
    looks = pl.when("looks_alike").then(pl.lit(" and looks the same")).otherwise(pl.lit(""))
    other = pl.col("fits_instead").str.replace_all("; ", ", ", literal=True)
    instead = pl.when(pl.col("fits_instead").is_not_null()).then(pl.format("; {} fits{}", other, looks))
    what = pl.lit(": a wrong number, a wrong part, or one that was made to fit.")
    return pl.concat_str(head, instead, what, ignore_nulls=True)
