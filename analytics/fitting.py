"""Which part numbers fit a car, in words, and which only look alike: of a car in the records, or of one described."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.serials import serial_key, within

if TYPE_CHECKING:
    from datetime import date

    Row = dict[str, Any]

EVERY_PLACE = "all"
FITS, UNKNOWN = "yes", "cannot be told"
PLACE = ("component", "position")
TOLD_BY = ("no limit", "series", "serial", "build date", "nothing")
"""What tells whether a part fits; of several rows of one number the later word counts."""

SAID = {
    "no limit": "as the parts list names no series",
    "series": "by its series",
    "serial": "by its serial",
    "build date": "by the day it was built",
}


@dataclass(frozen=True, slots=True)
class Described:
    """What is told of a car that no record knows.

    Attributes
    ----------
    series, serial
        None = not known.
    built
        First and last day on which it may have been built; None = not known.
    """

    series: str | None = None
    serial: str | None = None
    built: tuple[date, date] | None = None


def look_alikes(rows: pl.DataFrame) -> pl.DataFrame:
    """Return `part_no`, `other`: numbers that look the same and do not interchange, each pair in both directions.

    Parameters
    ----------
    rows
        `part_no`, `looks_like`: numbers that look the same, with ``;`` between them.
    """
    named = (
        rows.filter(pl.col("looks_like").is_not_null())
        .select("part_no", other=pl.col("looks_like").str.split(";"))
        .explode("other")
        .with_columns(pl.col("other").str.strip_chars())
        .filter((pl.col("other") != "") & (pl.col("other") != pl.col("part_no")))
    )
    return pl.concat([named, named.select(part_no="other", other="part_no")]).unique().sort("part_no", "other")


def may_fit(rows: pl.DataFrame, place: tuple[str, ...] = PLACE) -> pl.DataFrame:
    """Return one row per place and number that fits or may fit it.

    Parameters
    ----------
    rows
        Rows of a parts list that are not known not to fit: the columns of `place`, `part_no`, `live_no`, `sure`, `by`
        (what tells it, a place in `TOLD_BY`), `range`; of `position` null = all.
    place
        Columns that name a place, with the car where there are several.

    Returns
    -------
    polars.DataFrame
        `place`, `part_no`, `live_no`, `sure`, `by`, `told_by`, `range`, in the order of the rows.
    """
    return (
        rows.with_columns(pl.col("position").fill_null(EVERY_PLACE))
        .group_by([*place, "part_no", "live_no"], maintain_order=True)
        .agg(
            pl.col("sure").any(),
            by=pl.col("by").filter("sure").max().fill_null(TOLD_BY.index("nothing")),
            range=pl.col("range").unique(maintain_order=True).str.join("; "),
        )
        .with_columns(told_by=pl.col("by").replace_strict(dict(enumerate(TOLD_BY)), return_dtype=pl.String))
    )


def answers(may: pl.DataFrame, pairs: pl.DataFrame, place: tuple[str, ...] = PLACE) -> pl.DataFrame:
    """Say of every number that fits or may fit a place whether it does, what to order, and what only looks like it.

    Parameters
    ----------
    may
        As from `may_fit`.
    pairs
        As from `look_alikes`.
    place
        As for `may_fit`.

    Returns
    -------
    polars.DataFrame
        `place`, `part_no`, `live_no`, `fits`, `told_by`, `looks_like`, `says`, as in snapshot table ``part_for_car``.
    """
    key = [*place, "part_no"]
    every = _at_each_place(may, place)
    alike = (
        may.join(pairs, on="part_no", how="inner")
        .join(every.select(*place, other="part_no"), on=[*place, "other"], how="anti")
        .group_by(key)
        .agg(looks_like=pl.col("other").sort().str.join("; "), many=pl.len() > 1)
    )
    live = every.filter("sure").select(*place, live_no="part_no", live_fits=pl.lit(value=True)).unique()
    told = may.join(alike, on=key, how="left").join(live, on=[*place, "live_no"], how="left").sort(key)
    return told.select(
        *key,
        "live_no",
        fits=pl.when("sure").then(pl.lit(FITS)).otherwise(pl.lit(UNKNOWN)),
        told_by="told_by",
        looks_like="looks_like",
        says=pl.concat_str(_fits_or_not(), _superseded(), _warning(), pl.lit("."), ignore_nulls=True),
    )


def _at_each_place(may: pl.DataFrame, place: tuple[str, ...]) -> pl.DataFrame:
    """Return numbers by place, those that fit every position at each position that is named."""
    of_place = may.select(*place, "part_no", "sure")
    named = of_place.select(place).unique()
    others = [name for name in place if name != "position"]
    everywhere = of_place.filter(pl.col("position") == EVERY_PLACE).drop("position").join(named, on=others, how="inner")
    return pl.concat([of_place, everywhere.select(of_place.columns)]).unique()


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


def in_words(rows: pl.DataFrame) -> pl.DataFrame:
    """Return rows of a parts list with `range`, the cars that each fits, in words.

    Parameters
    ----------
    rows
        `series`, `serial_from`, `serial_to`; null = open.
    """
    ends = pl.concat_str(
        pl.when(pl.col("serial_from").is_not_null()).then(pl.format(" from {}", "serial_from")),
        pl.when(pl.col("serial_to").is_not_null()).then(pl.format(" to {}", "serial_to")),
        ignore_nulls=True,
    )
    return rows.with_columns(range=pl.concat_str(pl.col("series").fill_null("all series"), ends))


def fits_described(fits: pl.DataFrame, car: Described) -> pl.DataFrame:
    """Return which numbers of a parts list fit a car that no record knows.

    Parameters
    ----------
    fits
        Rows of snapshot table ``part_fit``.
    car
        What is told of it. A serial tells its series too, where the ranges of one series alone begin as it does.

    Returns
    -------
    polars.DataFrame
        As snapshot table ``part_for_car``, without the car.
    """
    series = car.series if car.series is not None else _series_of(fits, car.serial)
    rows = in_words(fits)
    told = [_told(row, car, series) for row in rows.iter_rows(named=True)]  # a row per number and range of the list
    sure, by = ([each[place] for each in told] for place in (0, 1))
    judged = rows.with_columns(sure=pl.Series(sure, dtype=pl.Boolean), by=pl.Series(by, dtype=pl.Int8))
    return answers(may_fit(judged.filter(pl.col("sure").is_not_null())), look_alikes(fits))


def _series_of(fits: pl.DataFrame, serial: str | None) -> str | None:
    """Return the only series that has a range whose serials begin as this one does; None = none, or several."""
    text = serial_key(serial)[0] if serial else ""
    if not text:
        return None
    ends = fits.unpivot(on=["serial_from", "serial_to"], index="series", value_name="end").drop_nulls(["end"])
    alike = {series for series, _, end in ends.iter_rows() if serial_key(end)[0] == text}
    return alike.pop() if len(alike) == 1 else None


def _told(row: Row, car: Described, series: str | None) -> tuple[bool | None, int]:
    """Return whether a row surely fits, None = it does not, and what tells it."""
    fits, by = _in_range(row, car)
    if fits is False or (row["series"] is not None and series is not None and row["series"] != series):
        return None, 0
    if row["series"] is not None and series is None:
        fits = None
    if by is None:
        by = "no limit" if row["series"] is None else "series"
    return fits is True, TOLD_BY.index(by)


def _in_range(row: Row, car: Described) -> tuple[bool | None, str | None]:
    """Return whether the car lies in a row's range, None = nothing tells; and what tells it, None = it has no range."""
    if row["serial_from"] is None and row["serial_to"] is None:
        return True, None
    inside = within(car.serial, row["serial_from"], row["serial_to"]) if car.serial else None
    if inside is None and car.built is not None:
        return _in_time(row, *car.built), "build date"
    return inside, "serial"


def _in_time(row: Row, first: date, last: date) -> bool | None:
    """Return whether a car built between two days lies in a row's range; None = the other cars do not tell."""
    sides = []
    if row["serial_from"] is not None:
        sides.append(_beyond(first, last, row["before_from"], row["since_from"]))
    if row["serial_to"] is not None:
        past = _beyond(first, last, row["until_to"], row["after_to"])
        sides.append(None if past is None else not past)
    if False in sides:
        return False
    return None if None in sides else True


def _beyond(first: date, last: date, before: date | None, since: date | None) -> bool | None:
    """Return whether days lie beyond a limit that is known from both sides."""
    if since is not None and first >= since:
        return True
    return False if before is not None and last <= before else None
