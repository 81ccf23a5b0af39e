"""Leading zeros that a workbook only shows: numbers in cells with a format such as 00000."""

from __future__ import annotations

import io
import re
import zipfile
from typing import IO, TYPE_CHECKING
from xml.etree import ElementTree

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterator

ZEROS = re.compile(r"(0{2,20})(?:;.*)?")
"""A format of zeros alone, perhaps followed by formats of other kinds of number."""

WHOLE = re.compile(r"\d+(?:\.0+)?")
MAIN = "{http://schemas.openxmlformats.org/spreadsheetml/2006/main}"
LINKED = "{http://schemas.openxmlformats.org/officeDocument/2006/relationships}id"
RELATED = "{http://schemas.openxmlformats.org/package/2006/relationships}Relationship"


def shown_zeros(content: bytes) -> dict[str, pl.DataFrame]:
    """Return, by sheet, the numbers that are shown with leading zeros.

    Parameters
    ----------
    content
        A workbook that `check_workbook` has let pass: its parts are bounded and declare no entities.

    Returns
    -------
    dict of str and DataFrame
        ``row`` (from 0), ``column`` (from 0, the first one that holds a value), ``number`` and ``shown`` as texts.
        Empty where no cell has such a format, or the parts are not laid out as the standard says.
    """
    try:
        with zipfile.ZipFile(io.BytesIO(content)) as archive:
            widths = _widths(archive)
            if not widths:
                return {}
            return {name: _sheet(archive, part, widths) for name, part in _sheets(archive)}
    except (KeyError, ValueError, ElementTree.ParseError):
        return {}


def with_shown_zeros(cells: pl.DataFrame, shown: pl.DataFrame | None) -> pl.DataFrame:
    """Return a sheet's cells with the zeros that it shows, where a cell holds the number that was found there.

    Parameters
    ----------
    cells
        Texts, by row and column of the sheet.
    shown
        Of that sheet, as `shown_zeros` returns it; None = nothing was found.
    """
    if shown is None:
        return cells
    padded = []
    for column in shown["column"].unique().sort().to_list():
        if column >= cells.width:
            continue
        texts = cells.to_series(column)
        here = shown.filter((pl.col("column") == column) & (pl.col("row") < len(texts)))
        here = here.filter(texts.gather(here["row"]) == here["number"])
        padded.append(texts.clone().scatter(here["row"], here["shown"]).alias(texts.name))
    return cells.with_columns(padded)


def _widths(archive: zipfile.ZipFile) -> dict[str, int]:
    """Return the number of figures of every cell style that shows zeros."""
    if "xl/styles.xml" not in archive.namelist():
        return {}
    styles = ElementTree.fromstring(archive.read("xl/styles.xml"))
    zeros = {
        each.get("numFmtId"): len(found[1])
        for each in styles.iter(f"{MAIN}numFmt")
        if (found := ZEROS.fullmatch(each.get("formatCode", "")))
    }
    used = styles.find(f"{MAIN}cellXfs")
    formats = [] if used is None else [each.get("numFmtId") for each in used]
    return {str(at): zeros[each] for at, each in enumerate(formats) if each in zeros}


def _sheets(archive: zipfile.ZipFile) -> Iterator[tuple[str, str]]:
    """Yield name and part of every sheet."""
    related = ElementTree.fromstring(archive.read("xl/_rels/workbook.xml.rels"))
    targets = {each.get("Id"): each.get("Target", "") for each in related.iter(RELATED)}
    book = ElementTree.fromstring(archive.read("xl/workbook.xml"))
    for sheet in book.iter(f"{MAIN}sheet"):
        target = targets.get(sheet.get(LINKED), "")
        yield sheet.get("name", ""), target.removeprefix("/") if target.startswith("/") else f"xl/{target}"


def _sheet(archive: zipfile.ZipFile, part: str, widths: dict[str, int]) -> pl.DataFrame:
    with archive.open(part) as stream:
        cells = pl.DataFrame(
            _cells(stream, widths), schema=["row", "column", "number", "shown"], orient="row", infer_schema_length=None
        )
    first = cells["column"].min()
    return cells.with_columns(pl.col("column") - first).drop_nulls("shown")


def _cells(stream: IO[bytes], widths: dict[str, int]) -> list[tuple[int, int, str | None, str | None]]:
    """Return place and value of the cells that show zeros, and of the leftmost cell that holds anything."""
    found: list[tuple[int, int, str | None, str | None]] = []
    leftmost = 2**31
    for _, row in ElementTree.iterparse(stream):
        if row.tag != f"{MAIN}row":
            continue
        for cell in row:
            place = re.fullmatch(r"([A-Z]{1,3})(\d{1,7})", cell.get("r", ""))
            if not place or not len(cell):
                continue
            column, value = _number(place[1]), cell.findtext(f"{MAIN}v", "")
            leftmost = min(leftmost, column)
            width = widths.get(cell.get("s", ""))
            if width and cell.get("t", "n") == "n" and WHOLE.fullmatch(value):
                number = value.split(".")[0]
                found.append((int(place[2]) - 1, column, number, number.zfill(width)))
        row.clear()
    return [(0, leftmost, None, None), *found]


def _number(letters: str) -> int:
    """Return the number of a column from 0.

    Examples
    --------
    >>> _number("A"), _number("AB")
    (0, 27)
    """
    number = 0
    for letter in letters:
        number = number * 26 + ord(letter) - ord("A") + 1
    return number - 1
