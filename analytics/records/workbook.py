"""Read workbooks and Parquet files as text."""

from __future__ import annotations

import io
import re
from typing import TYPE_CHECKING

import fastexcel
import polars as pl

from analytics.errors import FeedError
from analytics.records.archive import check_workbook
from analytics.records.careful_text import BROKEN, ROW
from analytics.records.headings import name_columns
from analytics.records.shown_zeros import shown_zeros, with_shown_zeros

if TYPE_CHECKING:
    from collections.abc import Iterator


CELL_ERRORS = {
    "Name": "#NAME?",
    "Ref": "#REF!",
    "Div0": "#DIV/0!",
    "NA": "#N/A",
    "Null": "#NULL!",
    "Num": "#NUM!",
    "Value": "#VALUE!",
    "GettingData": "#GETTING_DATA",
}
"""What the reading library calls a cell's error, and what a spreadsheet program shows."""

MOST_ROWS = 100_000_000
"""A Parquet file of a few bytes can state any number of equal rows."""


def read_sheets(content: bytes, where: str, heading_line: int = 1) -> Iterator[tuple[str, pl.DataFrame]]:
    """Yield name and rows of every sheet that holds a value.

    Parameters
    ----------
    content
        The workbook's bytes.
    where
        File name, for messages.
    heading_line
        1-based row of the column names; blank rows above the heading are skipped.

    Yields
    ------
    tuple of str and DataFrame
        Sheet name; String columns by their own names plus `ROW`.

    Raises
    ------
    FeedError
        If the bytes are no workbook, or one that is refused unread (see `check_workbook`), or two columns of a
        sheet have one name.
    """
    check_workbook(content, where)
    try:
        book = fastexcel.read_excel(content)
    except fastexcel.FastExcelError:
        raise FeedError(
            "the file is not a workbook", where=where, next_step="save it again as XLSX, or export it as CSV"
        ) from None
    zeros = shown_zeros(content)
    for name in book.sheet_names:
        cells = _cells(book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string"))
        rows = _tidy(with_shown_zeros(cells, zeros.get(name))).slice(heading_line - 1)
        held = rows.select(pl.any_horizontal(pl.all().is_not_null()).alias("held"))["held"] if rows.width else None
        if held is None or not held.any():
            continue
        rows = rows.slice(int(held.arg_max() or 0))
        heading = name_columns([cell or "" for cell in rows.row(0)], f"{where}, sheet {name}")
        yield name, _numbered(rows.slice(1).rename(dict(zip(rows.columns, heading, strict=True))))


def _cells(sheet: fastexcel.ExcelSheet) -> pl.DataFrame:
    """Return a sheet's cells as text; a cell that holds an error holds its sign, such as ``#REF!``."""
    batch, errors = sheet.to_arrow_with_errors()
    cells = pl.DataFrame(batch)
    places: dict[int, dict[int, str]] = {}
    for error in errors.errors if errors else []:
        row, column = error.position
        found = re.search(r"Error\((\w+)\)", error.detail)
        places.setdefault(column, {})[row] = CELL_ERRORS.get(found[1] if found else "", "#ERROR!")
    signs = [
        cells.to_series(column).scatter([*at], [*at.values()]).alias(cells.columns[column])
        for column, at in places.items()
    ]
    return cells.with_columns(signs)


def read_parquet(content: bytes, where: str) -> pl.DataFrame:
    """Return the rows of a Parquet file as text, plus `ROW`.

    Raises
    ------
    FeedError
        If the bytes are not Parquet, or a column holds lists, structs, bytes or lengths of time.
    """
    try:
        rows = pl.scan_parquet(io.BytesIO(content)).select(pl.len()).collect().item()
        frame = pl.read_parquet(io.BytesIO(content)) if rows <= MOST_ROWS else pl.DataFrame()
    except (pl.exceptions.PolarsError, OSError):
        raise FeedError(
            "the file is not Parquet", where=where, next_step="write it again, or export it as CSV"
        ) from None
    if rows > MOST_ROWS:
        raise FeedError(
            f"the file states {rows:,} rows", where=where, next_step=f"split it: at most {MOST_ROWS:,} are read at once"
        )
    nested = [
        name
        for name, dtype in frame.schema.items()
        if dtype.is_nested() or dtype in (pl.Binary, pl.Object, pl.Duration)
    ]
    if nested:
        raise FeedError(
            f"column {nested[0]} does not hold plain values",
            where=where,
            next_step="write text, numbers, dates and yes/no values only",
        )
    rows = _tidy(frame.select(_as_text(name, dtype) for name, dtype in frame.schema.items()))
    return _numbered(rows.rename(dict(zip(rows.columns, name_columns(rows.columns, where), strict=True))))


def _as_text(name: str, dtype: pl.DataType) -> pl.Expr:
    column = pl.col(name)
    if not dtype.is_float():
        return column.cast(pl.String)
    # a float column of whole numbers is what other programs write for whole numbers with gaps
    whole = column.is_finite() & (column == column.round()) & (column.abs() < 2**53)
    text = pl.when(whole).then(column.cast(pl.Int64, strict=False).cast(pl.String)).otherwise(column.cast(pl.String))
    return pl.when(column.is_nan()).then(None).otherwise(text).alias(name)


def _tidy(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.select(pl.all().cast(pl.String).str.strip_chars().replace("", None))


def _numbered(frame: pl.DataFrame) -> pl.DataFrame:
    return frame.with_columns(pl.int_range(1, pl.len() + 1, dtype=pl.Int64).alias(ROW))


NO_BROKEN = pl.DataFrame(schema=BROKEN)
"""Workbooks and Parquet files have no rows that cannot be split."""
