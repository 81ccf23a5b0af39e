"""What readings taken at checks say, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboards import words
from dashboards.answers.rounding import MINUS, signed
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    import polars as pl

    from dashboards.answers.said import Row

SUSPECTED = (
    "Readings are taken where somebody looks, often because of a complaint: these shares are not those of all cars."
)


def figure(x: float) -> str:
    """Write a reading: four significant digits, a thin space from 10 000.

    >>> figure(12.4), figure(2550.0), figure(-0.01512)
    ('12.4', '2550', '\u22120.01512')
    """
    text = f"{float(f'{abs(x):.4g}'):,.10g}".replace(",", words.THIN_SPACE if abs(x) >= 10_000 else "")
    return f"{MINUS}{text}" if x < 0 else text


def title_of(row: Row) -> str:
    """Name what was read, and in which unit."""
    return f"{row['component']}, {row['unit']}"


def answer(row: Row, until: date) -> Said:
    """Say how many readings lie outside the limits, and whether they change over the years.

    Parameters
    ----------
    row
        Row of ``reading_drift``.
    until
        The snapshot's day.
    """
    facts = [f"**{words.count(row['readings'], 'reading')}**", words.count(row["vehicles"], "car")]
    line = words.evidence("ink", facts, until)
    limit = f"Limit: {row['source']}." if row["source"] else ""
    notes = (limit, change(row), _units(row), SUSPECTED)
    return Said("ink", sentence(row), line, tuple(filter(None, notes)))


def sentence(row: Row) -> str:
    """Say how many readings lie outside the limits."""
    lower, upper, unit = row["limit_lower"], row["limit_upper"], row["unit"]
    all_of = f"{words.whole(row['readings'])} readings of the {row['component']}"
    if row["readings"] == 1:
        all_of = f"one reading of the {row['component']}"
    if lower is None and upper is None:
        between = f"between {figure(row['lowest'])} and {figure(row['highest'])} {unit}"
        return f"{words.first_up(all_of)}: {between}. No limit is stated for them."
    out = []
    if lower is not None and row["below"]:
        out.append(f"{words.whole(row['below'])} {_lie(row['below'])} below {figure(lower)} {unit}")
    if upper is not None and row["above"]:
        out.append(f"{words.whole(row['above'])} {_lie(row['above'])} above {figure(upper)} {unit}")
    if out:
        return f"Of {all_of}, {' and '.join(out)}."
    ends = (
        f"at least {figure(lower)}" if lower is not None else "",
        f"at most {figure(upper)}" if upper is not None else "",
    )
    return f"Of {all_of} none outside its limits: {' and '.join(filter(None, ends))} {unit}."


def _lie(count: int) -> str:
    return "lies" if count == 1 else "lie"


def change(row: Row) -> str:
    """Say how readings change over the years, each car compared with itself."""
    if row["status"] != "ok":
        cars = words.count(row["read_again"], "car was", "cars were")
        return f"{words.first_up(cars)} read more than once: too little to say how readings change over the years."
    low, high, unit = row["per_year_lower"], row["per_year_upper"], row["unit"]
    if low <= 0 <= high:
        told = "No change over the years can be told, each car compared with itself"
        return f"{told}: it could be {signed(low)} to {signed(high)} {unit} a year."
    way = "rise" if row["per_year"] > 0 else "fall"
    near, far = sorted((abs(low), abs(high)))
    limits = f"could be {words.two(near)} to {words.two(far)}"
    about = f"They {way} by about {words.two(abs(row['per_year']))} {unit} a year"
    return f"{about} ({limits}), each car compared with itself."


def _units(row: Row) -> str:
    said = []
    if row["converted"]:
        other = (
            "was recorded in another unit and is" if row["converted"] == 1 else "were recorded in another unit and are"
        )
        said.append(f"{words.first_up(words.count(row['converted'], 'reading'))} {other} converted.")
    if row["units_apart"]:
        units = words.count(row["units_apart"], "other unit", "other units")
        said.append(f"Readings in {units} cannot be converted into {row['unit']} and are kept apart.")
    return " ".join(said)


def listed(readings: pl.DataFrame, records: pl.DataFrame) -> pl.DataFrame:
    """Return the readings as rows of a table, the newest first."""
    return (
        readings.join(records.select("record", "record_id"), on="record", how="left")
        .sort("read_on", "record", descending=True)
        .with_columns(on="read_on", unit="measured_unit")
        .select("record_id", "vehicle_id", "on", "position", "measured", "unit", "verdict")
    )
