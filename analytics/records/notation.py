"""Rewrite dates and numbers as an export writes them into ISO dates and plain numbers; what does not fit stays."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from analytics.records.mapping import Format

DAY_FIRST = r"^(?P<d>\d{1,2})[./-](?P<m>\d{1,2})[./-](?P<y>\d{4}|\d{2})$"
MONTH_FIRST = r"^(?P<m>\d{1,2})[./-](?P<d>\d{1,2})[./-](?P<y>\d{4}|\d{2})$"
MONTH_AND_YEAR = r"^(?P<m>\d{1,2})[./-](?P<y>\d{4})$"
TIME_OF_DAY = r"[T ]\d{1,2}:\d{2}.*$"
NO_DAY = r"^1899-12-3[01] "
"""The day before a workbook's days begin: a cell that holds only a time of day."""

POINT_AND_THREE = r"^[+-]?[1-9]\d{0,2}(?:\.\d{3})+$"
"""Either thousands or three decimals."""

ALIKE = {"[\u00a0\u2007\u2009\u202f]": " ", "[\u2019\u02bc\u00b4`]": "'"}
"""Spaces and apostrophes that stand before thousands, by the one that a mapping states."""

SURELY_DECIMALS = r"^[+-]?(?:\d+\.\d{1,2}|\d+\.\d{4,}|(?:0|\d{4,})\.\d+)$"
UNCERTAIN = "(may be"
"""Beginning of the remark behind a number or day that can be read in two ways."""

BETWEEN = " or "
CENTURIES = (1900, 2000)
"""Between which a two-digit year is not certain where nobody states the hundred years it lies in."""

MONTHS = ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec")
DAY_AND_WORD = r"(?i)^(?P<d>\d{1,2})(?:st|nd|rd|th)?[ .-]+(?P<m>[a-z]{3,9})\.?[ .,-]+(?P<y>\d{4}|\d{2})$"
WORD_AND_DAY = r"(?i)^(?P<m>[a-z]{3,9})\.? +(?P<d>\d{1,2})(?:st|nd|rd|th)?,? +(?P<y>\d{4}|\d{2})$"
WORD_AND_YEAR = r"(?i)^(?P<m>[a-z]{3,9})\.?[ .,-]+(?P<y>\d{4})$"
MONTH_WORDS = (
    r"(?i)^(?:jan(?:uary)?|feb(?:ruary)?|mar(?:ch)?|apr(?:il)?|may|june?|july?|aug(?:ust)?|sept?(?:ember)?"
    r"|oct(?:ober)?|nov(?:ember)?|dec(?:ember)?)$"
)

SERIAL_DATE = r"^[1-9]\d{4}(?:\.\d+)?$"


def iso_dates(text: pl.Expr, notation: Format, *, from_sheet: bool) -> pl.Expr:
    """Return dates as ``yyyy-mm-dd``, ``yyyy-mm`` or ``yyyy``; a text that fits no pattern is left as it is.

    Parameters
    ----------
    text
        Dates as written, without spaces around them.
    notation
        Order of day, month and year; the century of two-digit years.
    from_sheet
        Whether five-digit numbers are a workbook's serial dates (days since 1899-12-30).

    Notes
    -----
    A date that begins with four digits is year first in every order. A day 31.02 keeps its order and is refused later.
    An English month in words needs no order, but one must be stated. A day with a two-digit year of which nobody
    stated the hundred years is followed by both readings.
    """
    if notation.date_order == "iso" and not from_sheet:
        return text
    if from_sheet:
        text = text.str.replace(NO_DAY, "")
    text = text.str.replace(TIME_OF_DAY, "")
    if from_sheet:
        days = pl.when(text.str.contains(SERIAL_DATE)).then(text).cast(pl.Float64).floor().cast(pl.Int32)
        serial = (pl.lit("1899-12-30").str.to_date() + pl.duration(days=days)).cast(pl.String)
        text = pl.coalesce(serial, text)
    if notation.date_order == "iso":
        return text
    patterns = {"dmy": (DAY_FIRST, MONTH_AND_YEAR), "mdy": (MONTH_FIRST, MONTH_AND_YEAR), "ym": (MONTH_AND_YEAR,)}
    worded = (DAY_AND_WORD, WORD_AND_DAY, WORD_AND_YEAR)
    rewritten = [
        _rewrite(text, pattern, notation.two_digit_years) for pattern in (*patterns[notation.date_order], *worded)
    ]
    return pl.coalesce(*rewritten, text)


def _rewrite(text: pl.Expr, pattern: str, first_year: int) -> pl.Expr:
    parts = text.str.extract_groups(pattern)
    year, month = parts.struct.field("y"), parts.struct.field("m")
    if "[a-z]" in pattern:
        begin = pl.when(month.str.contains(MONTH_WORDS)).then(month.str.to_lowercase().str.slice(0, 3))
        month = begin.replace_strict(MONTHS, [str(n) for n in range(1, 13)], default=None, return_dtype=pl.String)
    rest = [month.str.zfill(2)]
    if "(?P<d>" in pattern:
        rest.append(parts.struct.field("d").str.zfill(2))
    two = year.str.len_bytes() == 2
    of_hundred = year.cast(pl.Int64, strict=False)
    if first_year:
        whole = (first_year + (of_hundred - first_year % 100) % 100).cast(pl.String)
        return pl.concat_str([pl.when(two).then(whole).otherwise(year), *rest], separator="-")
    readings = [pl.concat_str([(begin + of_hundred).cast(pl.String), *rest], separator="-") for begin in CENTURIES]
    either = pl.concat_str(
        text, pl.lit(f" {UNCERTAIN} "), readings[0], pl.lit(BETWEEN), readings[1], pl.lit(")")
    )  # fmt: skip
    return pl.when(two).then(either).otherwise(pl.concat_str([year, *rest], separator="-"))


def plain_numbers(text: pl.Expr, notation: Format) -> pl.Expr:
    """Return numbers with a decimal point and no thousands mark; as they are where nobody stated the marks.

    A text that is not written with the stated marks is followed by a remark, so that ``1.500`` in a file with
    decimal commas is set aside later instead of being read as one and a half.
    """
    if not notation.decimal or (notation.decimal == "." and not notation.thousands):
        return text
    for written, one in ALIKE.items():
        text = text.str.replace_all(written, one) if notation.thousands == one else text
    decimal, mark = re.escape(notation.decimal), re.escape(notation.thousands)
    whole = rf"(?:\d+|\d{{1,3}}(?:{mark}\d{{3}})+)" if mark else r"\d+"
    fits = text.str.contains(rf"^[+-]?(?:{whole}(?:{decimal}\d+)?|{decimal}\d+)$")
    plain = text.str.replace_all(notation.thousands, "", literal=True) if mark else text
    plain = plain.str.replace(notation.decimal, ".", literal=True)
    marks = f"decimal mark {notation.decimal}" + (f", thousands mark {notation.thousands}" if mark else "")
    return pl.when(fits).then(plain).otherwise(pl.concat_str(text, pl.lit(f" (not written with {marks})")))


def may_be_thousands(text: pl.Expr) -> pl.Expr:
    """Return whether the point of a number may stand before thousands or before three decimals."""
    return text.str.contains(POINT_AND_THREE)


def doubtful_numbers(text: pl.Expr) -> pl.Expr:
    """Return numbers with a remark behind those whose point may stand before thousands or before three decimals.

    Parameters
    ----------
    text
        Numbers as written, by a hand that stated no marks, where nothing shows that the point is a decimal mark.
    """
    bare = text.str.replace_all(".", "", literal=True)
    twice = text.str.count_matches(".", literal=True) > 1
    readings = (
        pl.when(twice)
        .then(bare)
        .otherwise(pl.concat_str(bare, pl.lit(" or "), text.str.strip_chars_end("0").str.strip_chars_end(".")))
    )
    remark = pl.concat_str(text, pl.lit(f" {UNCERTAIN} "), readings, pl.lit(")"))
    return pl.when(may_be_thousands(text)).then(remark).otherwise(text)


def shows_decimals(text: pl.Expr) -> pl.Expr:
    """Return whether a column holds a number whose point can only be a decimal mark: 34.50, 0.125 or 1200.125."""
    return text.str.contains(SURELY_DECIMALS).any()
