"""Find and take out every row of the kept feeds that is about one car."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.ledger.mentions import mentions_any
from analytics.records.blocks import UNREAD_TEXT
from analytics.records.native_rows import CARRIED

if TYPE_CHECKING:
    from analytics.records import MappedFeed

PLACE = ["feed_hash", "table_name", "file", "row_no"]
SHORTEST_SERIAL = 4
"""A shorter serial may be any number in a text."""

FORGOTTEN = "forgotten"


@dataclass(frozen=True, slots=True)
class Car:
    """What the rows of one car are known by.

    Attributes
    ----------
    names
        Its id, and spellings in other capitals that are no car of their own.
    serials
        Its serials of at least `SHORTEST_SERIAL` signs.
    jobs
        Numbers of its jobs: source, record_id.
    places
        Rows that named another car, or none, until a quarantine sheet mended them: feed_hash, table_name, file, row_no.
    """

    names: frozenset[str]
    serials: frozenset[str]
    jobs: pl.DataFrame
    places: pl.DataFrame


def find_car(feeds: dict[str, MappedFeed], known_as: list[str], quarantined: pl.DataFrame) -> Car | None:
    """Return what the rows of a car are known by; None = no kept feed names it.

    Parameters
    ----------
    feeds
        Kept feeds by hash.
    known_as
        Ids the car may have.
    quarantined
        As ``quarantine_place.sql``.
    """
    named = pl.concat([_column(feeds, "vehicle_id"), pl.DataFrame(schema={"table": pl.String, "text": pl.String})])
    if named.filter(pl.col("text").is_in(known_as)).is_empty():
        return None
    cars = named.filter((pl.col("table") == "vehicles") & ~pl.col("text").is_in(known_as))
    alike = pl.col("text").str.to_lowercase().is_in([each.lower() for each in known_as])
    names = frozenset(named.filter(alike).join(cars, on="text", how="anti")["text"])
    rows = {
        (feed, table): frame.filter(_text("vehicle_id").is_in(list(names)))
        for feed, mapped in feeds.items()
        for table, frame in mapped.tables.items()
        if "vehicle_id" in frame.columns
    }
    serials = [frame.select(_text("serial")).to_series() for frame in rows.values() if "serial" in frame.columns]
    jobs = [
        frame.select(source=pl.lit(feeds[feed].source), record_id=_text("record_id"))
        for (feed, table), frame in rows.items()
        if table == "repairs" and "record_id" in frame.columns
    ]
    return Car(
        names,
        frozenset(each for part in serials for each in part.drop_nulls() if len(each) >= SHORTEST_SERIAL),
        pl.concat([pl.DataFrame(schema={"source": pl.String, "record_id": pl.String}), *jobs]).unique(),
        _mended(feeds, rows, quarantined),
    )


def without_car(feed: str, mapped: MappedFeed, car: Car) -> MappedFeed:
    """Return a kept feed without the rows of a car; the same feed where it holds none.

    Parameters
    ----------
    feed
        Hash under which it is kept.
    mapped
        Its rows.
    car
        As from `find_car`.
    """
    tables = {table: frame.filter(~_about(feed, table, mapped, car)) for table, frame in mapped.tables.items()}
    files = [file for file, _ in mapped.files]
    told = set(pl.DataFrame({"f": files}, schema={"f": pl.String}).filter(mentions_any(pl.col("f"), car.names))["f"])
    return replace(mapped, tables=tables, files=tuple(each for each in mapped.files if each[0] not in told))


def mapping_without_car(text: str, car: Car) -> str:
    """Return the text of a mapping with another word where it names the car as a value.

    Examples
    --------
    >>> nothing = pl.DataFrame()
    >>> mapping_without_car('skip = {Car = ["a17"]}', Car(frozenset({"a17"}), frozenset(), nothing, nothing))
    'skip = {Car = ["forgotten"]}'
    """
    for name in car.names | car.serials:
        text = re.sub(rf"""(["']){re.escape(name)}\1""", f'"{FORGOTTEN}"', text)
    return text


def rows_that_mention(mapped: MappedFeed, car: Car) -> int:
    """Return how many rows of a feed have one of the car's names or serials somewhere in their text."""
    total, words = 0, {*car.names, *car.serials}
    for frame in mapped.tables.values():
        texts = [name for name, kind in frame.schema.items() if kind == pl.String and name != CARRIED]
        told = pl.any_horizontal(pl.lit(value=False), *(mentions_any(pl.col(name), words) for name in texts))
        total += int(frame.select(told.sum()).item()) if frame.height else 0
    return total


def steps_that_mention(steps: list[dict[str, Any]], car: Car) -> int:
    """Return how many steps of the journal have one of them in what a person typed: a reason, or a name."""
    typed = [" ".join(str(step[name]) for name in ("reason", "old", "new") if name in step) for step in steps]
    told = pl.DataFrame({"typed": typed}, schema={"typed": pl.String})
    return int(told.select(mentions_any(pl.col("typed"), {*car.names, *car.serials}).sum()).item())


def _text(name: str) -> pl.Expr:
    """Return a column's text as a judge reads it; null where empty."""
    text = pl.col(name).str.strip_chars()
    return pl.when(text != "").then(text).alias(name)


def _column(feeds: dict[str, MappedFeed], name: str) -> pl.DataFrame:
    parts = [
        frame.select(table=pl.lit(table), text=_text(name)).drop_nulls().unique()
        for mapped in feeds.values()
        for table, frame in mapped.tables.items()
        if name in frame.columns
    ]
    return pl.concat([pl.DataFrame(schema={"table": pl.String, "text": pl.String}), *parts]).unique()


def _mended(
    feeds: dict[str, MappedFeed], rows: dict[tuple[str, str], pl.DataFrame], quarantined: pl.DataFrame
) -> pl.DataFrame:
    """Return the places of rows that sheets mended, which may be sheets themselves."""
    numbers = [_numbers(frame) for frame in rows.values()]
    found = quarantined.clear().select(PLACE)
    while True:
        mended = pl.concat([pl.Series("n", [], dtype=pl.Int64), *numbers])
        places = quarantined.filter(pl.col("quarantine_id").is_in(mended.implode())).select(PLACE).unique()
        new = places.join(found, on=PLACE, how="anti")
        if new.is_empty():
            return found
        found = pl.concat([found, new])
        numbers = [
            _numbers(feeds[feed].tables[table].join(part, on=["file", "row_no"], how="semi"))
            for (feed, table), part in new.group_by("feed_hash", "table_name")
            if feed in feeds
        ]


def _numbers(frame: pl.DataFrame) -> pl.Series:
    if CARRIED not in frame.columns:
        return pl.Series("n", [], dtype=pl.Int64)
    return frame.select(pl.col(CARRIED).cast(pl.Int64, strict=False).alias("n")).to_series().drop_nulls()


def _about(feed: str, table: str, mapped: MappedFeed, car: Car) -> pl.Expr:
    """Return whether a row is about the car: it names it, is of one of its jobs, or was mended to name it."""
    columns = mapped.tables[table].columns
    here = car.places.filter((pl.col("feed_hash") == feed) & (pl.col("table_name") == table))
    place = pl.struct("file", "row_no")
    about = place.is_in(here.select(place.alias("place")).to_series().implode())
    if "vehicle_id" in columns:
        about |= _text("vehicle_id").is_in(list(car.names)).fill_null(value=False)
    if table == "repairs" and "record_id" in columns:
        jobs = car.jobs.filter(pl.col("source") == mapped.source)["record_id"]
        nameless = _text("vehicle_id").is_null() if "vehicle_id" in columns else pl.lit(value=True)
        about |= nameless & _text("record_id").is_in(jobs.implode()).fill_null(value=False)
    if UNREAD_TEXT in columns:
        about |= mentions_any(pl.col(UNREAD_TEXT), car.names | car.serials)
    return about
