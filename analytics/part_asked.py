"""Which part for this car? Asked for a car that no record knows, by its series, its serial or the day it was built."""

from __future__ import annotations

from datetime import date
from difflib import get_close_matches
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import SnapshotError
from analytics.fitting import EVERY_PLACE, Described, fits_described
from analytics.snapshot import read_table, safety_critical

if TYPE_CHECKING:
    import duckdb

TABLE = "part_for_car"
LOOKS = "Compare the numbers, not the looks; a range of serials speaks for the car as it left the works."
CAUTION = "critical for safety: follow the maker's manual, and have a qualified person fit it"


def built_in(text: str) -> tuple[date, date]:
    """Return first and last day that a build date means: a day, a month as 1978-05 or a year as 1978.

    Raises
    ------
    ValueError
        If it is none of these.

    Examples
    --------
    >>> [day.isoformat() for day in built_in("1978-02")]
    ['1978-02-01', '1978-02-28']
    """
    figures = text.split("-")
    if not 1 <= len(figures) <= 3 or not all(part.isascii() and part.isdigit() for part in figures):
        raise ValueError(text)
    year, month, day = (int(part) for part in (*figures, "0", "0")[:3])
    if len(figures) == 3:
        return date(year, month, day), date(year, month, day)
    first = date(year, month or 1, 1)
    after = date(year + 1, 1, 1) if month in (0, 12) else date(year, month + 1, 1)
    return first, date.fromordinal(after.toordinal() - 1)


def parts_for(connection: duckdb.DuckDBPyConnection, car: Described, component: str | None) -> pl.DataFrame:
    """Return which numbers fit a car that no record knows, as snapshot table ``part_for_car`` does, without the car.

    Parameters
    ----------
    connection
        An open snapshot.
    car
        What is told of it.
    component
        Component as the snapshot names it; None = every kind of part.

    Raises
    ------
    SnapshotError
        If there is no parts list, or no car and no part of that series.
    """
    fits = read_table(connection, "part_fit")
    if fits.is_empty():
        raise SnapshotError(
            "no parts list says what fits which car",
            where=f"show {TABLE}",
            next_step="load a table parts with part_no, component and series, then run: wearledger analyse",
        )
    _check_series(connection, fits, car.series)
    found = fits_described(fits, car)
    return found if component is None else found.filter(pl.col("component") == component)


def _check_series(connection: duckdb.DuckDBPyConnection, fits: pl.DataFrame, series: str | None) -> None:
    known = pl.concat([fits["series"], read_table(connection, "vehicle")["series"]]).drop_nulls().unique().sort()
    if series is None or series in known:
        return
    near = get_close_matches(series, known.to_list(), n=3) or known.to_list()[:5]
    raise SnapshotError(
        f"no car and no part is of a series {series!r}",
        where="show --series",
        next_step=f"did you mean {' or '.join(near)}?" if near else "leave --series out",
    )


def in_sentences(connection: duckdb.DuckDBPyConnection, found: pl.DataFrame) -> list[str]:
    """Return what fits a car as lines of text, with the look-alikes, and what is to be looked at before fitting.

    Parameters
    ----------
    connection
        An open snapshot.
    found
        As from `parts_for`.
    """
    if found.is_empty():
        return ["The parts list names nothing that fits this car."]
    lines = [f"{_place(kind, at)}: {says}" for kind, at, says in found.select("component", "position", "says").rows()]
    critical = {*safety_critical(connection)} & {*found["component"]}
    return [*lines, LOOKS, *(f"{name} is {CAUTION}" for name in sorted(critical))]


def _place(component: str, position: str) -> str:
    return component if position == EVERY_PLACE else f"{component}, {position}"
