"""Which part fits this car, and which look-alike does not: looked up in the parts list's ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.fitting import EVERY_PLACE, FITS, PLACE, Described, fits_described
from dashboards import words

if TYPE_CHECKING:
    from datetime import date

EVERY = "every kind of part"
ALL_SERIES = "series not known"
SHOWN = {
    "component": "component",
    "part_no": "part",
    "looks_like": "looks alike, does not fit",
    "position": "position",
    "order": "order as",
    "fits": "fits",
    "says": "why",
}
"""Headings by column; what must not be overlooked comes first, for a phone shows no more without a swipe."""


def of_car(answers: pl.DataFrame) -> pl.DataFrame:
    """Return what is said of one car, as table ``part_for_car`` does, in shown columns."""
    sure = answers.filter(pl.col("fits") == FITS)
    here = {*sure.select(*PLACE, "part_no").iter_rows()}
    newer = [
        live if live != part and {(kind, at, live), (kind, EVERY_PLACE, live)} & here else None
        for kind, at, part, live in answers.select(*PLACE, "part_no", "live_no").iter_rows()
    ]
    told = answers.with_columns(order=pl.Series(newer, dtype=pl.String))
    return told.select(pl.col(name).alias(heading) for name, heading in SHOWN.items())


def described(fits: pl.DataFrame, series: str, serial: str | None = None, built: date | None = None) -> pl.DataFrame:
    """Return which numbers fit a car that no record knows, in shown columns.

    Parameters
    ----------
    fits
        Rows of ``part_fit``.
    series
        Of the car; `ALL_SERIES` where nobody knows it.
    serial, built
        Of the car, and the day it was built; None = not known.
    """
    days = None if built is None else (built, built)
    return of_car(fits_described(fits, Described(None if series == ALL_SERIES else series, serial, days)))


def sentence(shown: pl.DataFrame, component: str) -> str:
    """Say which numbers fit, and warn of what only looks like them.

    Parameters
    ----------
    shown
        As from `of_car` or `described`.
    component
        Kind of part asked for, or `EVERY`.
    """
    if shown.is_empty():
        return "The parts list names nothing that fits this car."
    sure = shown.filter(pl.col("fits") == FITS)
    if component == EVERY:
        unknown = shown.height - sure.height
        many = sure["part"].n_unique()
        told = f"{words.first_up(words.count(many, 'number fits', 'numbers fit'))} this car."
        return f"{told} Of {words.count(unknown, 'more', 'more')} it cannot be told." if unknown else told
    if sure.is_empty():
        return f"It cannot be told which {component} fits this car: ask for its serial."
    numbers = sorted({row["order as"] or row["part"] for row in sure.iter_rows(named=True)})
    alike = sorted({one for each in sure["looks alike, does not fit"].drop_nulls() for one in each.split("; ")})
    warning = (
        f" {', '.join(alike)} {'looks' if len(alike) == 1 else 'look'} alike and {_no(alike)} not fit." if alike else ""
    )
    return f"{words.first_up(component)}: {' or '.join(numbers)}.{warning}"


def _no(numbers: list[str]) -> str:
    return "does" if len(numbers) == 1 else "do"


def misfits(found: pl.DataFrame) -> pl.DataFrame:
    """Return records of a part on a car it does not fit, the newest first, in shown columns."""
    told = found.sort("closed_on", "record", descending=[True, False])
    return told.select("record", "vehicle_id", "closed_on", "component", "part_no", why="says")


def findings(found: pl.DataFrame) -> pl.DataFrame:
    """Return contradictions and gaps of the parts list in shown columns."""
    return found.select("kind", "part_no", why="says")
