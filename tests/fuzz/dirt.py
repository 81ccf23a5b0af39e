"""A sound feed, and what spoils it: cells, rows, columns; everything follows from one random generator."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

from analytics.records.feed import FEED

if TYPE_CHECKING:
    from random import Random

WORDS = [
    "left",
    "front",
    "pump, water",
    'hose 3/8"',
    "Öl",
    "7",
    "J-1",
    "engine bay",
    "1.234",
    "x;y",
    "none",
    "N/A",
    "all",
]
NASTY = [
    "", " ", "\t", "0", "-0", "-1", "1e308", "1e400", "-1e400", "nan", "inf", "9" * 25, "0." + "0" * 40 + "1", "1,5",
    "1.234,56", "61.240", "1 234", "1'234", "0x1F", "1_000", "٣", "²", "½", "+5", "5.", ".5", "1e3", "12a",
    "0000-00-00", "0001-01-01", "1884-12-31", "1885-01-01", "9999-12-31", "10000-01-01", "2020-02-30", "2020-13-01",
    "31.12.2020", "12/31/2020", "1.2.03", "2020-1-2", "20200102", "2020", "2020-05", "05.2020", "43831", "-2020-01-01",
    "2020-01-01T25:61", "2020-01-01 00:00:00", "jan 5 2020", "2020-01-01\n", "２０２０-01-01", "1899-12-30",
    "\x00", "\x01", "\x07", "\x0b", "\x0c", "\x1b[31m", "\x1f", "\x7f", "\x85", "\xa0", "\u200b", "\u2028", "\ufeff",
    "\u202e", "\U0001f527", "e\u0301", "ﬁ", "İ", "ß", "\ud7ff", "\ufffe", "'", '"', '""', '"""', "'--", "=1+1", "@x",
    ",", ";", "\n", "\r", "\r\n", "|", "\\", '\\"', "{}", "[1]", "null", "None", "true", "#REF!", "#N/A",
    "(placeholder) 1", "(not kept: x)", "content-0", "EXAMPLE", "all", "only", "unknown", "mi", "KM", "eur", "€",
    "Replaced ", "RE PLACED", "no fault  found", "tel 0171 1234567", "a@b.example", "%s", "{0}", "$1", "x" * 3000,
]  # fmt: skip
SIZES = (3, 40, 400, 1500, 4000, 15_000)
"""Rows of the largest table of a round."""


@dataclass
class Sheet:
    """One table on its way to a file.

    Attributes
    ----------
    name
        Native table.
    heading, rows
        Cells as text.
    whole
        Whether the file holds just these rows, written as CSV asks, so that they can be counted.
    file, encoding, delimiter
        How it was written; encoding and delimiter are empty for other files than CSV.
    """

    name: str
    heading: list[str]
    rows: list[list[str]]
    whole: bool = True
    file: str = ""
    encoding: str = ""
    delimiter: str = ""


def sound_feed(chance: Random, sizes: tuple[int, ...] = SIZES) -> list[Sheet]:
    """Return tables as a tidy shop would keep them."""
    size = chance.choice(sizes)
    cars = [f"car{n}" for n in range(max(1, size // 20))]
    tables = ["vehicles", "repairs", *chance.sample(sorted({*FEED} - {"vehicles", "repairs"}), chance.randrange(4))]
    counts = {"vehicles": len(cars), "repairs": size}
    return [_sheet(chance, name, counts.get(name, min(size, 200)), cars) for name in tables]


def _sheet(chance: Random, name: str, count: int, cars: list[str]) -> Sheet:
    table = FEED[name]
    others = [column.name for column in table.columns if column.nullable and chance.random() < 0.6]
    heading = [*table.required, *others]
    chance.shuffle(heading)
    columns = [table.column(each) for each in heading]
    rows = [[_cell(chance, column, number, cars) for column in columns] for number in range(count)]
    return Sheet(name, heading, rows)


def _cell(chance: Random, column, number: int, cars: list[str]) -> str:
    if column.name == "vehicle_id":
        return cars[number % len(cars)]
    if column.name in {"record_id", "part_no"}:
        return f"{column.name[0]}{number if chance.random() < 0.9 else chance.randrange(50)}"
    if column.nullable and chance.random() < 0.3:
        return ""
    if column.kind == "date":
        return (date(1960, 1, 1) + timedelta(days=chance.randrange(24_000))).isoformat()
    if column.kind in {"number", "whole"}:
        return str(chance.choice([0, 1, 1, 5, chance.randrange(200_000)]))
    if column.kind == "yes_no":
        return chance.choice(["yes", "no"])
    return chance.choice(column.values or WORDS)


def spoil(chance: Random, sheet: Sheet) -> None:
    """Spoil cells, rows and columns; the file can still be written as it should be."""
    share = chance.choice([0, 0.01, 0.1, 0.5])
    for row in sheet.rows:
        if chance.random() < share and row:
            chance.choice([_nasty, _nasty, _insert, _swap, _lose, _gain])(chance, row)
    if sheet.rows and chance.random() < 0.3:
        sheet.rows += [list(chance.choice(sheet.rows)) for _ in range(chance.randrange(1, 6))]
    if chance.random() < 0.1:
        sheet.rows.insert(chance.randrange(len(sheet.rows) + 1), [""] * len(sheet.heading))
    if chance.random() < 0.12:
        chance.choice([_drop_column, _double_column, _rename_column])(chance, sheet)


def _nasty(chance: Random, row: list[str]) -> None:
    row[chance.randrange(len(row))] = chance.choice(NASTY)


def _insert(chance: Random, row: list[str]) -> None:
    at = chance.randrange(len(row))
    place = chance.randrange(len(row[at]) + 1)
    row[at] = row[at][:place] + chance.choice([*",;\"'\t\n\r|\\", "\x00", "\x1b", "\u2028", '""']) + row[at][place:]


def _swap(chance: Random, row: list[str]) -> None:
    one, other = chance.randrange(len(row)), chance.randrange(len(row))
    row[one], row[other] = row[other], row[one]


def _lose(chance: Random, row: list[str]) -> None:
    if len(row) > 2:
        del row[chance.randrange(len(row))]


def _gain(chance: Random, row: list[str]) -> None:
    row.insert(chance.randrange(len(row)), chance.choice(NASTY))


def _drop_column(chance: Random, sheet: Sheet) -> None:
    at = chance.randrange(len(sheet.heading))
    for row in [sheet.heading, *sheet.rows]:
        del row[at : at + 1]


def _double_column(chance: Random, sheet: Sheet) -> None:
    at = chance.randrange(len(sheet.heading))
    for row in [sheet.heading, *sheet.rows]:
        row.append(row[at] if at < len(row) else "")
    if chance.random() < 0.7:
        sheet.heading[-1] += " again"


def _rename_column(chance: Random, sheet: Sheet) -> None:
    at = chance.randrange(len(sheet.heading))
    sheet.heading[at] = chance.choice(
        ["", sheet.heading[at].upper(), "note", "x" * 300, 'a"b', "#row", "unread", "file"]
    )
