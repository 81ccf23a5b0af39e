"""Read one text value of each kind, or say in words why it cannot be; whole columns at a time."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.notation import BETWEEN, UNCERTAIN
from analytics.scales import odometer_limit

if TYPE_CHECKING:
    from analytics.records.table import Column

FIRST_MOTOR_CAR = date(1885, 1, 1)
"""No record of a car is older."""

MOST_DRUMS = 7
"""No odometer shows a figure with more digits."""

MOST_MONEY = 1e9
MOST_PARTS = 1e7

RANGES: dict[str, tuple[float, float]] = {
    "odometer": (0, odometer_limit(MOST_DRUMS) - 1),
    "odometer_digits": (4, MOST_DRUMS),
    "line_no": (0, 1e9),
    # below zero: a part credited
    "quantity": (-1e4, 1e4),
    "cost": (-MOST_MONEY, MOST_MONEY),
    "labour_minutes": (0, 1e6),
    "check_minutes": (0, 1e6),
    "access_minutes": (0, 1e6),
    "measured": (-1e9, 1e9),
    "lower": (-1e9, 1e9),
    "upper": (-1e9, 1e9),
    "x": (0, 1),
    "y": (0, 1),
    "covers_positions": (1, 1000),
    "lead_time_days": (0, 3650),
    "lead_time_p90_days": (0, 3650),
    "unit_cost": (0, MOST_MONEY),
    "pack_size": (1, 1e5),
    "minimum_order": (0, 1e5),
    "shelf_life_months": (0, 1200),
    "pledged": (0, 100_000),
    "pledged_in_care": (0, 100_000),
    "first_years": (0, 200),
    "second_years": (0, 200),
    "first_good": (0, 10),
    "second_good": (0, 10),
    "cars": (0, 1000),
    "on_hand": (0, MOST_PARTS),
    "reserved": (0, MOST_PARTS),
    "on_order": (0, MOST_PARTS),
}
"""Least and greatest possible value of every column of numbers, the same in every table."""

RESERVED: dict[str, tuple[str, ...]] = {
    "position": ("all", "only"),
    "series": ("all",),
    "variant": ("all", "unknown"),
}
"""Words with a meaning of their own in the results: not split by this, a component with one place, not known."""

OTHER_SPACES = "\u00a0\u2007\u2009\u202f\u2019"
OTHER_MARKS = rf"^[+-]?\d[\d.' {OTHER_SPACES}]*[,' {OTHER_SPACES}][\d.,' {OTHER_SPACES}]*$"
"""A number written with marks other than one decimal point."""

TWO_READINGS = rf"\{UNCERTAIN} (?P<a>\d{{4}}-\d\d-\d\d)(?:{BETWEEN}(?P<b>\d{{4}}-\d\d-\d\d))?\)$"
"""Remark behind a day with a two-digit year."""

WRITTEN_DAY = r"^\d{4}-\d{1,2}-\d{1,2}$"
TWO_DIGIT_YEAR = r"^\d{1,2}[./-]\d{1,2}[./-]\d{2}$"

YES = ("yes", "true", "y", "1")
NO = ("no", "false", "n", "0")


@dataclass(frozen=True, slots=True)
class Reading:
    """How a column of text is read.

    Attributes
    ----------
    value
        Typed value, null where the text is empty or refused.
    says
        What is wrong, null where nothing is; follows the quoted value in a sentence.
    inferred
        Whether part of the value was filled in.
    """

    value: pl.Expr
    says: pl.Expr
    inferred: pl.Expr


def read_column(column: Column, text: pl.Expr, loaded_on: date) -> Reading:
    """Return how the column's text is read.

    Parameters
    ----------
    column
        Declared column.
    text
        Its text, stripped, null where empty.
    loaded_on
        Day of loading; no day that has happened is later.
    """
    if column.kind == "date":
        return _date(column, text, loaded_on)
    if column.kind in {"number", "whole"}:
        return _number(column, text)
    if column.kind == "yes_no":
        return _yes_no(text)
    return _words(column, text)


def _reading(value: pl.Expr, text: pl.Expr, says: str | pl.Expr, inferred: pl.Expr | None = None) -> Reading:
    told = pl.lit(says) if isinstance(says, str) else says
    refused = pl.when(text.is_not_null() & value.is_null()).then(told)
    return Reading(value, refused, pl.lit(value=False) if inferred is None else inferred)


def _words(column: Column, text: pl.Expr) -> Reading:
    if column.name == "currency":
        code = text.str.to_uppercase()
        return _reading(pl.when(code.str.contains("^[A-Z]{3}$")).then(code), text, "is no currency code such as EUR")
    if column.name in RESERVED:
        return _no_reserved(column, text)
    if not column.values:
        return _reading(text, text, "")
    word = text.str.to_lowercase().str.replace_all(r"\s+", " ")
    known = pl.when(word.is_in(list(column.values))).then(word)
    return _reading(known, text, f"is not one of: {', '.join(column.values)}; state its meaning in the mapping")


def _no_reserved(column: Column, text: pl.Expr) -> Reading:
    """Refuse words that would be taken for a total, or for a slot or design of our own."""
    free = pl.when(~text.str.to_lowercase().is_in(RESERVED[column.name])).then(text)
    if column.nullable:
        return _reading(
            free, text, "is a word reserved for the results: read as empty; if it is a name, choose another"
        )
    says = "is a word reserved for the results: name the family of cars instead, such as the name of the model"
    return _reading(free, text, says)


def _yes_no(text: pl.Expr) -> Reading:
    word = text.str.to_lowercase()
    value = pl.when(word.is_in(YES)).then(pl.lit(value=True)).when(word.is_in(NO)).then(pl.lit(value=False))
    return _reading(value, text, "is neither yes nor no")


def _number(column: Column, text: pl.Expr) -> Reading:
    number = text.cast(pl.Float64, strict=False)
    low, high = RANGES[column.name]
    fits = number.is_finite() & number.is_between(low, high)
    says = "is not a number with a decimal point"
    if column.kind == "whole":
        fits &= number == number.floor()
        says = "is not a whole number"
    told = (
        pl.when(text.str.contains(UNCERTAIN, literal=True))
        .then(pl.lit("is not certain: state decimal and thousands in a mapping, or write the number without marks"))
        .when(text.str.contains(OTHER_MARKS))
        .then(pl.lit(f"{says} from {low:.0f} to {high:.0f}; state decimal and thousands in the mapping"))
        .otherwise(pl.lit(f"{says} from {low:.0f} to {high:.0f}"))
    )
    value = pl.when(fits).then(number)
    return _reading(value.cast(pl.Int64) if column.kind == "whole" else value, text, told)


def _date(column: Column, text: pl.Expr, loaded_on: date) -> Reading:
    """Full days as they are, a year and month as the 15th, a bare year as 1 July (rule 1)."""
    readings = text.str.extract_groups(TWO_READINGS)
    first, second = (readings.struct.field(each).str.to_date("%Y-%m-%d", strict=False) for each in ("a", "b"))
    # the later one is out of question where it has not come yet, unless the day may lie ahead
    ahead = pl.lit(value=column.name == "on_order_due")
    certain = pl.when(second.is_null() | ((second > loaded_on) & ~ahead)).then(first)
    dashed = text.str.replace(r"[T ]\d{1,2}:\d{2}.*$", "").str.replace(
        r"^(\d{4})[./](\d{1,2})(?:[./](\d{1,2}))?$", "$1-$2-$3"
    )
    dashed = dashed.str.replace(r"^(\d{4})(\d{2})(\d{2})$", "$1-$2-$3").str.strip_suffix("-")
    # the pattern too: the reading alone allows blanks and signs within a day
    day = pl.when(dashed.str.contains(WRITTEN_DAY)).then(dashed).str.to_date("%Y-%m-%d", strict=False)
    month = (pl.when(dashed.str.contains(r"^\d{4}-\d{1,2}$")).then(dashed) + "-15").str.to_date(
        "%Y-%m-%d", strict=False
    )
    year = (pl.when(dashed.str.contains(r"^\d{4}$")).then(dashed) + "-07-01").str.to_date("%Y-%m-%d", strict=False)
    whole = pl.coalesce(day, month, year, certain)
    possible = whole >= FIRST_MOTOR_CAR
    late = (whole > loaded_on) & ~ahead
    says = (
        pl.when(text.is_null())
        .then(None)
        .when(whole.is_null() & second.is_not_null())
        .then(pl.lit("is not certain: write the year with four digits, or state two_digit_years in a mapping"))
        .when(whole.is_null() & text.str.contains(TWO_DIGIT_YEAR))
        .then(
            pl.lit(
                "is not a date as yyyy-mm-dd: write it so, with four digits for the year, "
                "or state date_order and two_digit_years in a mapping"
            )
        )
        .when(whole.is_null() & dashed.str.contains(WRITTEN_DAY))
        .then(pl.lit("is no day of the calendar: correct it"))
        .when(whole.is_null())
        .then(pl.lit("is not a date as yyyy-mm-dd: write it so, or state date_order in a mapping"))
        .when(~possible)
        .then(pl.lit(f"is before {FIRST_MOTOR_CAR}, when there were no cars"))
        .when(late)
        .then(pl.lit(f"is after the day of loading, {loaded_on}"))
    )
    return Reading(pl.when(possible & ~late).then(whole), says, day.is_null() & whole.is_not_null())
