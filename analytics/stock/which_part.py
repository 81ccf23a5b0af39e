"""Which part fits this car, which look-alike does not, and which records show a part on a car it does not fit."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.stock.fits import BOUNDS, BY_NOTHING, NO, TOLD_BY, YES, Fits

if TYPE_CHECKING:
    from datetime import date

    from analytics.stock.history import StockRecords

ALL = "all"
PLACE = ["vehicle_id", "component", "position"]
SAID = {
    "no limit": "as the parts list names no series",
    "series": "by its series",
    "serial": "by its serial",
    "build date": "by the day it was built",
}


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
    pairs = _look_alikes(rows)
    every = _may_fit(rows, fits)
    staying = records.vehicles.filter(pl.col("left_on").is_null() | (pl.col("left_on") > as_of)).select("vehicle_id")
    return FitTables(
        _part_fit(listed),
        _answers(every.join(staying, on="vehicle_id", how="semi"), pairs),
        _misfits(records, rows, fits, every, pairs),
    )


def _rows(catalogue: pl.DataFrame) -> pl.DataFrame:
    """Return the rows with every column that is asked for, their number, and the cars they fit in words."""
    texts = ("position", "series", "serial_from", "serial_to", "looks_like")
    missing = [pl.lit(None, dtype=pl.String).alias(name) for name in texts if name not in catalogue.columns]
    ends = pl.concat_str(
        pl.when(pl.col("serial_from").is_not_null()).then(pl.format(" from {}", "serial_from")),
        pl.when(pl.col("serial_to").is_not_null()).then(pl.format(" to {}", "serial_to")),
        ignore_nulls=True,
    )
    cars = pl.concat_str(pl.col("series").fill_null("all series"), ends)
    return catalogue.with_columns(missing).with_columns(fits=cars)


def _part_fit(listed: pl.DataFrame) -> pl.DataFrame:
    key = ("part_no", "live_no", "component", "position", "series", "serial_from", "serial_to")
    return listed.select(*key, *BOUNDS, "looks_like").filter(pl.col("component").is_not_null())


def _look_alikes(rows: pl.DataFrame) -> pl.DataFrame:
    """Return `part_no`, `other`: numbers that look the same, each pair in both directions."""
    named = (
        rows.filter(pl.col("looks_like").is_not_null())
        .select("part_no", other=pl.col("looks_like").str.split(";"))
        .explode("other")
        .with_columns(pl.col("other").str.strip_chars())
        .filter((pl.col("other") != "") & (pl.col("other") != pl.col("part_no")))
    )
    return pl.concat([named, named.select(part_no="other", other="part_no")]).unique().sort("part_no", "other")


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
    described = rows.filter("listed").select("row", "part_no", "live_no", "component", "position", "fits")
    return (
        found.join(described, on="row", how="inner")
        .with_columns(pl.col("position").fill_null(ALL))
        .sort("row")
        .group_by([*PLACE, "part_no", "live_no"], maintain_order=True)
        .agg(
            pl.col("sure").any(),
            by=pl.col("by").filter("sure").max().fill_null(BY_NOTHING),
            range=pl.col("fits").unique(maintain_order=True).str.join("; "),
        )
        .with_columns(told_by=pl.col("by").replace_strict(dict(enumerate(TOLD_BY)), return_dtype=pl.String))
    )


def _answers(may: pl.DataFrame, pairs: pl.DataFrame) -> pl.DataFrame:
    """Return snapshot table ``part_for_car``."""
    key = [*PLACE, "part_no"]
    alike = (
        may.join(pairs, on="part_no", how="inner")
        .join(may.select(*PLACE, other="part_no"), on=[*PLACE, "other"], how="anti")
        .group_by(key)
        .agg(looks_like=pl.col("other").sort().str.join("; "), many=pl.len() > 1)
    )
    live = may.filter("sure").select(*PLACE, live_no="part_no", live_fits=pl.lit(value=True))
    told = may.join(alike, on=key, how="left").join(live, on=[*PLACE, "live_no"], how="left").sort(key)
    return told.select(
        *key,
        "live_no",
        fits=pl.when("sure").then(pl.lit("yes")).otherwise(pl.lit("cannot be told")),
        told_by="told_by",
        looks_like="looks_like",
        says=pl.concat_str(_fits_or_not(), _superseded(), _warning(), pl.lit("."), ignore_nulls=True),
    )


def _fits_or_not() -> pl.Expr:
    told = pl.col("told_by").replace_strict(SAID, default="", return_dtype=pl.String)
    unknown = pl.format(
        "it cannot be told from what is known of this car whether {} fits, which takes its serial: it fits {}",
        "part_no",
        "range",
    )
    return pl.when("sure").then(pl.format("{} fits, {}", "part_no", told)).otherwise(unknown)


def _superseded() -> pl.Expr:
    other = pl.col("live_no") != pl.col("part_no")
    ordered = pl.format("; order {}, which supersedes it and fits as well", "live_no")
    not_here = pl.format("; {} supersedes it, but the parts list does not say that it fits this car", "live_no")
    return pl.when(other & pl.col("live_fits").is_not_null()).then(ordered).when(other).then(not_here)


def _warning() -> pl.Expr:
    verb = (
        pl.when("many")
        .then(pl.lit("look the same and do not fit"))
        .otherwise(pl.lit("looks the same and does not fit"))
    )
    return pl.when(pl.col("looks_like").is_not_null()).then(
        pl.format("; {} {}", pl.col("looks_like").str.replace_all("; ", ", ", literal=True), verb)
    )


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
    of_part = listed.select("row", "part_no", "component", "fits")
    at = lines.join(of_part, on="part_no", how="inner")
    by = fits.by[at["row"].to_numpy(), at["car"].to_numpy()]
    of_line = (
        at.with_columns(by=pl.Series(by, dtype=pl.Int8))
        .sort("line_id", "row")
        .group_by("line_id", maintain_order=True)
        .agg(
            pl.col("by").max(),
            component=pl.col("component").first(),
            fits_range=pl.col("fits").unique(maintain_order=True).str.join("; "),
        )
    )
    found = lines.join(of_line, on="line_id", how="inner")
    instead = (
        found.join(every.filter("sure"), on=["vehicle_id", "component"], how="inner", suffix="_fits")
        .filter(
            (pl.col("position_fits") == ALL)
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
