"""Write a spoilt feed as files, damage their text or bytes, and state in a mapping how they are written."""

from __future__ import annotations

import csv
import io
import json
from typing import TYPE_CHECKING

import polars as pl
import xlsxwriter

from analytics.records.feed import FEED

if TYPE_CHECKING:
    from pathlib import Path
    from random import Random

    from tests.fuzz.dirt import Sheet

LONGEST_LINE = 300_000
UNMARKED = {"utf-16-be": "utf-16-be", "cp1252": "cp1252", "mixed": "latin-1"}
"""Encodings that no byte order mark tells, and what a shop would state; latin-1 reads any byte."""


def write(chance: Random, sheet: Sheet, folder: Path, damage: float) -> None:
    """Write one sheet as CSV, Parquet or workbook, and with a chance of `damage` damage its text or bytes."""
    kind = chance.choices(["csv", "parquet", "xlsx"], [12, 1, 1 if len(sheet.rows) < 500 else 0])[0]
    path = folder / f"{sheet.name}.{kind}"
    sheet.file, sheet.whole, sheet.encoding, sheet.delimiter = path.name, kind == "csv", "", ""
    content = {"csv": _csv, "parquet": _parquet, "xlsx": _workbook}[kind](chance, sheet, damage)
    if chance.random() < damage / 2:
        sheet.whole = False
        content = _flipped(chance, content)
    path.write_bytes(content)


def _csv(chance: Random, sheet: Sheet, damage: float) -> bytes:
    delimiter = chance.choice(",,,;;\t|")
    text = io.StringIO(newline="")
    end = chance.choice(["\n", "\r\n"])
    writer = csv.writer(text, delimiter=delimiter, lineterminator=end, quoting=chance.choice([0, 0, 1]))
    if chance.random() > damage / 3:
        # one zero byte costs the whole file
        sheet.rows = [[cell.replace("\x00", "\x01") for cell in row] for row in sheet.rows]
    writer.writerows([sheet.heading, *sheet.rows])
    told = text.getvalue()
    if chance.random() < damage:
        sheet.whole = False
        told = chance.choice([_more_quotes, _long_line, _other_ends, _title, _cut])(chance, told)
    sheet.encoding = chance.choices(
        ["utf-8", "utf-8-sig", "utf-16", *UNMARKED, "surrogates"], [30, 4, 3, 1, 1, 1, damage]
    )[0]
    sheet.delimiter = delimiter
    return _encoded(chance, told, sheet.encoding)


def _encoded(chance: Random, text: str, encoding: str) -> bytes:
    if encoding == "mixed":
        at = chance.randrange(len(text))
        return text[:at].encode("utf-8", "replace") + text[at:].encode("cp1252", "replace")
    if encoding == "surrogates":
        at = chance.randrange(len(text))
        return (text[:at] + chance.choice(["\ud800", "\udfff"]) + text[at:]).encode("utf-16", "surrogatepass")
    return text.encode(encoding, "replace")


def _more_quotes(chance: Random, text: str) -> str:
    for _ in range(chance.randrange(1, 8)):
        at = chance.randrange(len(text))
        text = text[:at] + chance.choice(['"', '"', ',"', '",', "\n", '""']) + text[at:]
    return text


def _long_line(chance: Random, text: str) -> str:
    at = chance.randrange(len(text))
    return text[:at] + chance.choice(["x", " ", ",", '"', '""', "ü"]) * chance.randrange(LONGEST_LINE) + text[at:]


def _other_ends(chance: Random, text: str) -> str:
    return text.replace("\n", chance.choice(["\r", "\n\n", "\x0b", "\u2028", "\r\r\n"]))


def _title(chance: Random, text: str) -> str:
    return chance.choice(["\n\n", "our records\n", ",,,\n", "\x00\n", '"', "sep=;\n"]) + text


def _cut(chance: Random, text: str) -> str:
    return text[: chance.randrange(len(text))]


def _flipped(chance: Random, content: bytes) -> bytes:
    changed = bytearray(content)
    for _ in range(chance.choice([1, 1, 3, 50])):
        if changed:
            changed[chance.randrange(len(changed))] ^= 1 << chance.randrange(8)
    return bytes(changed[: chance.randrange(len(changed))] if chance.random() < 0.1 and changed else changed)


def _squared(sheet: Sheet) -> tuple[list[str], list[list[str]]]:
    names = [name if sheet.heading.index(name) == at else f"{name} {at}" for at, name in enumerate(sheet.heading)]
    return names, [(row + [""] * len(names))[: len(names)] for row in sheet.rows]


def _parquet(_: Random, sheet: Sheet, __: float) -> bytes:
    names, rows = _squared(sheet)
    to = io.BytesIO()
    pl.DataFrame(rows, schema=dict.fromkeys(names, pl.String), orient="row").write_parquet(to)
    return to.getvalue()


def _workbook(_: Random, sheet: Sheet, __: float) -> bytes:
    to = io.BytesIO()
    book = xlsxwriter.Workbook(to, {"strings_to_numbers": True, "strings_to_formulas": False, "strings_to_urls": False})
    page = book.add_worksheet(sheet.name)
    for at, row in enumerate([sheet.heading, *sheet.rows]):
        page.write_row(at, 0, [cell[:30_000] for cell in row])
    book.close()
    return to.getvalue()


def stated(sheets: list[Sheet]) -> str:
    """Return the blocks of a mapping that say how each file is written and which native column each of its own is."""
    return "\n".join(_block(sheet) for sheet in sheets)


def _block(sheet: Sheet) -> str:
    names = dict.fromkeys(name for name in FEED[sheet.name].names if name in sheet.heading)
    lines = [f"[[{sheet.name}]]", f'file = "{sheet.file}"']
    if sheet.encoding in UNMARKED:
        lines.append(f'encoding = "{UNMARKED[sheet.encoding]}"')
    if sheet.delimiter:
        lines.append(f"delimiter = {json.dumps(sheet.delimiter)}")
    columns = ", ".join(f"{name} = {json.dumps(name)}" for name in names)
    return "\n".join([*lines, f"columns = {{ {columns} }}"])
