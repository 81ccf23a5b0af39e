"""Guess how an export is written, for a proposal that a person checks; `load` never guesses."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.notation import ALIKE, POINT_AND_THREE, SURELY_DECIMALS

if TYPE_CHECKING:
    from datetime import date

WORDS: dict[str, tuple[str, ...]] = {
    "record_id": (
        "order",
        "order no",
        "job",
        "job no",
        "job number",
        "work order",
        "wo",
        "invoice",
        "invoice no",
        "number",
    ),
    "line_no": ("line", "line no", "pos", "item no"),
    "vehicle_id": ("vehicle", "vehicle id", "car", "car id", "bus", "bus id", "unit id", "chassis", "chassis no"),
    "series": ("model", "type", "group", "model series"),
    "built_on": ("built", "build date", "year built", "year", "purchased", "first registered"),
    "serial": ("serial no", "serial number", "vin"),
    "opened_on": ("opened", "date in", "received", "start", "start date", "reported"),
    "closed_on": ("closed", "date out", "completed", "completion date", "finished", "date closed", "job date", "date"),
    "read_on": ("reading date", "month", "date"),
    "odometer": ("mileage", "miles", "km", "odometer reading", "odo", "kilometres", "reading"),
    "odometer_unit": ("unit", "distance unit"),
    "symptom": ("complaint", "customer complaint", "reported fault"),
    "component": ("assembly", "part group"),
    "position": ("side", "slot"),
    "location": ("place", "where"),
    "finding": ("found", "diagnosis"),
    "action": ("work done", "work carried out", "done"),
    "reason": ("job type", "order type", "why"),
    "part_no": ("part", "part number", "part no"),
    "quantity": ("qty", "pieces"),
    "labour_minutes": ("labour min", "minutes"),
    "cost": ("price", "amount", "total"),
    "note": ("remarks", "comment", "comments", "notes"),
    "counted_on": ("count date", "stock date"),
    "on_hand": ("stock", "in stock", "qty on hand"),
    "sold_on": ("sale date", "invoice date", "date"),
}
"""Headings, in plain form, that often stand for a native column; the native name itself always does."""

PRIVATE = (
    r"^name$|(?:sur|first|last|full) ?name|^owner(?! key)|customer(?! complaint)|client|address|street|phone|mobile"
    r"|\btel\b|\bfax\b|e ?mail|registration|plate"
)
"""Headings whose columns must not be read."""

SHORTEST_HELD = 5
"""A shorter word must be the whole heading: "type" in "job type" says nothing of a car."""


def plain(heading: str) -> str:
    """Return a heading in lower case with single spaces; words written together are parted at their capitals.

    Examples
    --------
    >>> plain("Work_Order-No."), plain("StartDate")
    ('work order no', 'start date')
    """
    parted = re.sub(r"(?<=[a-z])(?=[A-Z])|(?<=[A-Z])(?=[A-Z][a-z])", " ", heading)
    return re.sub(r"[^a-z0-9]+", " ", parted.lower()).strip()


def match_columns(names: tuple[str, ...], headings: list[str]) -> dict[str, str]:
    """Return native column to heading, where a heading is, or else holds, its name or one of its usual words.

    Examples
    --------
    >>> match_columns(("vehicle_id", "closed_on", "odometer"), ["Car", "Closed on", "Colour", "Mileage (mi)"])
    {'vehicle_id': 'Car', 'closed_on': 'Closed on', 'odometer': 'Mileage (mi)'}
    """
    free = {plain(heading): heading for heading in headings if not re.search(PRIVATE, plain(heading))}
    matched: dict[str, str] = {}
    for held in (False, True):
        for name in (each for each in names if each not in matched):
            for word in (name.replace("_", " "), *WORDS.get(name, ())):
                held_word = f" {word} " if held and len(word) >= SHORTEST_HELD else "\n"
                found = next((each for each in free if each == word or held_word in f" {each} "), None)
                if found:
                    matched[name] = free.pop(found)
                    break
    return {name: matched[name] for name in names if name in matched}


def known_headings(tables: list[tuple[str, ...]], cells: list[str]) -> int:
    """Return how many of some cells would be headings of the one table that most of them fit.

    Examples
    --------
    >>> known_headings([("vehicle_id", "closed_on")], ["Car", "Date", "17"])
    2
    """
    return max(len(match_columns(names, cells)) for names in tables)


def private_columns(headings: list[str]) -> list[str]:
    """Return headings that look like an owner's name, address, telephone number or registration."""
    return [heading for heading in headings if re.search(PRIVATE, plain(heading))]


def date_order(values: pl.Series) -> tuple[str, str]:
    """Return the order of day, month and year, and what it rests on.

    Examples
    --------
    >>> date_order(pl.Series(["1/07/2006", "27/03/2007"]))
    ('dmy', '1 of 2 have a first number above 12')
    >>> date_order(pl.Series(["1/07/2006"]))
    ('dmy', 'no number above 12 tells day from month: CHECK, it may be mdy')
    """
    if values.is_empty() or values.str.contains(r"^\d{4}(?:[-./]\d{1,2}){0,2}(?:[T ].*)?$|^\d{8}$").all():
        return "iso", "year first"
    if values.str.contains(r"^\d{1,2}[./-]\d{4}$|^\d{4}[-./]\d{1,2}$").all():
        return "ym", "months only"
    parts = values.str.extract_groups(r"^(?P<a>\d{1,2})[./-](?P<b>\d{1,2})[./-]\d{2,4}").struct.unnest().cast(pl.Int64)
    first, second = int((parts["a"] > 12).sum()), int((parts["b"] > 12).sum())
    if first and second:
        return "dmy", f"CHECK: {first} dates can only be day first, {second} only month first"
    if first or second:
        order, which, count = ("dmy", "first", first) if first else ("mdy", "second", second)
        return order, f"{count} of {len(values)} have a {which} number above 12"
    return "dmy", "no number above 12 tells day from month: CHECK, it may be mdy"


def two_digit_years(values: pl.Series, loaded_on: date) -> int | None:
    """Return the first year of the hundred years that end on the day of loading, if years have two digits."""
    short = values.str.contains(r"^\d{1,2}[./-]\d{1,2}[./-]\d{2}$").any()
    return loaded_on.year - 99 if short else None


def number_marks(values: pl.Series) -> tuple[str, str, str]:
    """Return decimal mark and thousands mark of numbers, and what they rest on; no thousands mark where none is seen.

    Examples
    --------
    >>> number_marks(pl.Series(["1.234,50", "12"]))
    (',', '.', 'by the numbers')
    >>> number_marks(pl.Series(["61.240"]))
    (',', '.', 'CHECK: every point stands before three digits')
    >>> number_marks(pl.Series(["1234.5"]))
    ('.', '', 'by the numbers')
    >>> number_marks(pl.Series(["61 240", "34,5"]))
    (',', ' ', 'by the numbers')
    """
    by_numbers = "by the numbers"
    spaced = _space_or_apostrophe(values)
    if spaced:
        return *spaced, by_numbers
    for decimal, thousands in ((",", "."), (".", ",")):
        mark, other = re.escape(decimal), re.escape(thousands)
        if values.str.contains(rf"^-?\d{{1,3}}(?:{other}\d{{3}})+{mark}\d+$").any():
            return decimal, thousands, by_numbers
    points, commas = (_any(values, SURELY_DECIMALS, mark) for mark in ".,")
    before_point, before_comma = (_any(values, POINT_AND_THREE, mark) for mark in ".,")
    if commas and not points:
        return ",", "." if before_point else "", by_numbers
    if points and not commas:
        return ".", "," if before_comma else "", by_numbers
    if points or before_point == before_comma:
        return ".", "", by_numbers
    if before_comma:
        return ".", ",", by_numbers
    return ",", ".", "CHECK: every point stands before three digits"


def _space_or_apostrophe(values: pl.Series) -> tuple[str, str] | None:
    """Return decimal mark and thousands mark where spaces or apostrophes part the thousands."""
    for written, mark in ALIKE.items():
        alike = values.str.replace_all(written, mark)
        if alike.str.contains(rf"^-?\d{{1,3}}(?:{mark}\d{{3}})+(?:[.,]\d+)?$").any():
            return ("," if values.str.contains(r",\d+$").any() else "."), mark
    return None


def _any(values: pl.Series, pattern: str, mark: str) -> bool:
    return bool(values.str.contains(pattern.replace(r"\.", re.escape(mark))).any())


def odometer_unit(heading: str) -> tuple[str, str]:
    """Return the unit of an odometer column, and what it rests on."""
    words = plain(heading)
    if re.search(r"\bkm\b|kilomet", words):
        return "km", f"by the heading {heading}"
    # mileage is said of km too
    if re.search(r"\bmi\b|\bmiles?\b", words):
        return "mi", f"by the heading {heading}"
    return "km", "nothing in the file says so: CHECK"
