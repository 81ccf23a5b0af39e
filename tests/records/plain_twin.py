"""Read one text the plain way, value by value: what a careful person would take it for, or nothing."""

from __future__ import annotations

import re
from datetime import date

BLANKS = "".join(chr(code) for code in range(0x3001) if chr(code).isspace() and not 0x1C <= code <= 0x1F)
"""What stands for a space in Unicode; Python counts four separators of tape files too."""

DAY = re.compile(r"([0-9]{4})([-./])([0-9]{1,2})\2([0-9]{1,2})|([0-9]{4})([0-9]{2})([0-9]{2})")
MONTH = re.compile(r"([0-9]{4})[-./]([0-9]{1,2})")
YEAR = re.compile(r"[0-9]{4}")
TWO_DIGITS = re.compile(r".* \(may be ([0-9]{4}-[0-9]{2}-[0-9]{2})( or [0-9-]+)?\)", re.DOTALL)
"""A day with a two-digit year; the later reading can only be out of question because it has not come yet."""

TIME = re.compile(r"[T ][0-9]{1,2}:[0-9]{2}.*")
NUMBER = re.compile(r"[+-]?([0-9]+\.?[0-9]*|\.[0-9]+)([eE][+-]?[0-9]+)?")
YES = {"yes", "true", "y", "1"}
NO = {"no", "false", "n", "0"}


def is_blank(cells):
    """Whether a row holds nothing."""
    return all(not cell.strip(BLANKS) for cell in cells)


def read_plainly(column, text):
    """Return the value of a text in a declared column, and whether part of it had to be filled in; None = unread."""
    if column.kind == "date":
        return _day(text)
    if column.kind in {"number", "whole"}:
        number = float(text) if NUMBER.fullmatch(text) else None
        return (int(number) if column.kind == "whole" and number is not None else number), False
    if column.kind == "yes_no":
        return {**dict.fromkeys(YES, True), **dict.fromkeys(NO, False)}.get(text.lower()), False
    if column.name == "currency":
        return text.upper(), False
    return (re.sub(f"[{BLANKS}]+", " ", text.lower()) if column.values else text), False


def _day(text):
    if found := TWO_DIGITS.fullmatch(text):
        return date.fromisoformat(found[1]), True
    text = TIME.sub("", text)
    try:
        if found := DAY.fullmatch(text):
            year, month, day = (int(found[n] or found[m]) for n, m in ((1, 5), (3, 6), (4, 7)))
            return date(year, month, day), False
        if found := MONTH.fullmatch(text):
            return date(int(found[1]), int(found[2]), 15), True
        return (date(int(text), 7, 1), True) if YEAR.fullmatch(text) else (None, False)
    except ValueError:
        return None, False


def changed_silently(table, texts, judged):
    """Return what became of accepted values without a word: (file, row_no, column, text, value).

    Parameters
    ----------
    table
        Declared table.
    texts
        Mapped rows, with ``file`` and ``row_no`` that name each of them.
    judged
        What `judge` made of them.
    """
    aside = set(judged.set_aside.select("file", "row_no", "column").rows())
    written = {(row["file"], row["row_no"]): row for row in texts.iter_rows(named=True)}
    wrong = []
    for row in judged.accepted.iter_rows(named=True):
        place = (row["file"], row["row_no"])
        inferred = set((row["inferred"] or "").split(";"))
        for column in table.columns:
            text, value = (written[place].get(column.name) or "").strip(BLANKS), row[column.name]
            if not _as_told(column, text, value, column.name in inferred, (*place, column.name) in aside):
                wrong.append((*place, column.name, text, value))
    return wrong


def _as_told(column, text, value, inferred, aside):
    if aside:
        return text != "" and (value is None or inferred)
    if text == "":
        return value is None or inferred
    expected, filled_in = read_plainly(column, text)
    formed = column.name == "record_id" and text.startswith("content-")
    return value is not None and value == expected and inferred == (filled_in or formed)
