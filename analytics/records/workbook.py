"""Read workbooks and Parquet files as text."""

from __future__ import annotations

import io
from typing import TYPE_CHECKING

import fastexcel
import polars as pl

from analytics.errors import FeedError
from analytics.records.csv_text import BROKEN, ROW, name_columns

if TYPE_CHECKING:
    from collections.abc import Iterator


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
        Sheet name; String columns by their own names plus ``#row``.

    Raises
    ------
    FeedError
        If the bytes are no workbook, or two columns of a sheet have one name.
    """
    try:
        book = fastexcel.read_excel(content)
    except fastexcel.FastExcelError:
        raise FeedError(
            "the file is not a workbook", where=where, next_step="save it again as XLSX, or export it as CSV"
        ) from None
    for name in book.sheet_names:
        sheet = book.load_sheet(name, header_row=None, skip_rows=0, dtypes="string").to_polars()
        rows = _tidy(sheet).slice(heading_line - 1)
        held = rows.select(pl.any_horizontal(pl.all().is_not_null()).alias("held"))["held"] if rows.width else None
        if held is None or not held.any():
            continue
        rows = rows.slice(int(held.arg_max() or 0))
        heading = name_columns([cell or "" for cell in rows.row(0)], f"{where}, sheet {name}")
        yield name, _numbered(rows.slice(1).rename(dict(zip(rows.columns, heading, strict=True))))


def read_parquet(content: bytes, where: str) -> pl.DataFrame:
    """Return the rows of a Parquet file as text, plus ``#row``.

    Raises
    ------
    FeedError
        If the bytes are not Parquet, or a column holds lists, structs or bytes.
    """
    try:
        frame = pl.read_parquet(io.BytesIO(content))
    except (pl.exceptions.PolarsError, OSError):
        raise FeedError(
            "the file is not Parquet", where=where, next_step="write it again, or export it as CSV"
        ) from None
    nested = [name for name, dtype in frame.schema.items() if dtype.is_nested() or dtype in (pl.Binary, pl.Object)]
    if nested:
        raise FeedError(
            f"column {nested[0]} does not hold plain values",
            where=where,
            next_step="write text, numbers, dates and yes/no values only",
        )
    return _numbered(_tidy(frame.select(_as_text(name, dtype) for name, dtype in frame.schema.items())))


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
