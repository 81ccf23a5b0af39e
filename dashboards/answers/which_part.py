"""Which part fits this car, and which look-alike does not: looked up in the parts list's ranges."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.serials import within
from dashboards import words

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date

    from dashboards.answers.said import Row

EVERY, FITS, UNKNOWN = "every kind of part", "yes", "cannot be told"
ALL_SERIES = "series not known"
SHOWN = {
    "component": "component",
    "position": "position",
    "part_no": "part",
    "fits": "fits",
    "order": "order as",
    "looks_like": "looks alike, does not fit",
    "says": "why",
}


def of_car(answers: pl.DataFrame) -> pl.DataFrame:
    """Return what table ``part_for_car`` says of one car, in shown columns."""
    told = answers.with_columns(order=pl.when(pl.col("live_no") != pl.col("part_no")).then("live_no"))
    return told.select(pl.col(name).alias(heading) for name, heading in SHOWN.items())


def of_serial(fits: pl.DataFrame, series: str, serial: str) -> pl.DataFrame:
    """Return which numbers fit a car of this series and serial, in shown columns.

    Parameters
    ----------
    fits
        Rows of ``part_fit``.
    series, serial
        Of the car; `ALL_SERIES` where nobody knows the series.
    """
    return _looked_up(fits, series, lambda row: within(serial, row["serial_from"], row["serial_to"]), "serial")


def of_build_date(fits: pl.DataFrame, series: str, built: date) -> pl.DataFrame:
    """Return the same for a car of this series built on a day, as the serials and build dates of other cars tell."""
    return _looked_up(fits, series, lambda row: _in_time(row, built), "build date")


def _in_time(row: Row, built: date) -> bool | None:
    """Return whether a car built on a day lies in a row's range of serials; None = the other cars do not tell."""
    sides = []
    if row["serial_from"] is not None:
        sides.append(_side(built, row["before_from"], row["since_from"]))
    if row["serial_to"] is not None:
        past = _side(built, row["until_to"], row["after_to"])
        sides.append(None if past is None else not past)
    if False in sides:
        return False
    return None if None in sides else True


def _side(built: date, before: date | None, since: date | None) -> bool | None:
    """Return whether a day lies beyond a limit that is known from both sides."""
    if since is not None and built >= since:
        return True
    return False if before is not None and built <= before else None


def _looked_up(fits: pl.DataFrame, series: str, fit: Callable[[Row], bool | None], by: str) -> pl.DataFrame:
    found: dict[tuple[str, str, str], Row] = {}
    for row in fits.iter_rows(named=True):  # one row per number, place and range of the parts list
        told = _told(row, series, fit(row))
        if told is None:
            continue
        key = (row["component"], row["position"] or "", row["part_no"])
        known = found.get(key)
        if known is None or (told and known["fits"] == UNKNOWN):
            found[key] = {**row, "fits": FITS if told else UNKNOWN, "by": _by(row, series, by)}
    rows = [found[key] for key in sorted(found)]
    same_place: dict[tuple[str, str], set[str]] = {}
    for row in rows:
        same_place.setdefault((row["component"], row["position"] or ""), set()).add(row["part_no"])
    shown = [_shown(row, same_place[row["component"], row["position"] or ""], _pairs(fits)) for row in rows]
    return pl.DataFrame(shown, schema=dict.fromkeys(SHOWN.values(), pl.String))


def _told(row: Row, series: str, in_range: bool | None) -> bool | None:
    """Return whether a row fits: True, False = cannot be told, None = it does not."""
    if in_range is False or (row["series"] not in (None, series) and series != ALL_SERIES):
        return None
    return in_range is True and (row["series"] in (None, series))


def _by(row: Row, series: str, by: str) -> str:
    if row["serial_from"] or row["serial_to"]:
        return f"by its {by}"
    return "as the parts list names no series" if row["series"] is None else f"by its series, {series}"


def _pairs(fits: pl.DataFrame) -> dict[str, set[str]]:
    """Return the look-alikes of each number, in both directions."""
    pairs: dict[str, set[str]] = {}
    for number, listed in fits.select("part_no", "looks_like").drop_nulls().unique().iter_rows():
        for other in filter(None, (one.strip() for one in listed.split(";"))):
            pairs.setdefault(number, set()).add(other)
            pairs.setdefault(other, set()).add(number)
    return pairs


def _shown(row: Row, here: set[str], pairs: dict[str, set[str]]) -> Row:
    alike = "; ".join(sorted(pairs.get(row["part_no"], set()) - here))
    sure = row["fits"] == FITS
    told = (
        f"{row['part_no']} fits, {row['by']}." if sure else f"{row['part_no']} fits {_range(row)}: ask for the serial."
    )
    newer = row["live_no"] if row["live_no"] != row["part_no"] else None
    also = "" if newer is None or newer not in here else f" {newer} supersedes it and fits as well."
    values = (row["component"], row["position"], row["part_no"], row["fits"], newer if also else None, alike or None)
    return dict(zip(SHOWN.values(), (*values, told + also), strict=True))


def _range(row: Row) -> str:
    ends = [f"{word} {row[name]}" for word, name in (("from", "serial_from"), ("to", "serial_to")) if row[name]]
    return " ".join([row["series"] or "all series", *ends])


def sentence(shown: pl.DataFrame, component: str) -> str:
    """Say which numbers fit, and warn of what only looks like them.

    Parameters
    ----------
    shown
        As from `of_car`, `of_serial` or `of_build_date`.
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
