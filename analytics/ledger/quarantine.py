"""Show the quarantined rows, and write them to a workbook in which they can be mended and loaded again."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING, Any

import polars as pl
import xlsxwriter  # type: ignore[import-untyped]

from analytics.ledger.queries import answer
from analytics.records.feed import FEED
from analytics.records.native_rows import CARRIED, TELLING

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

    from analytics.records.table import Table

AS_WRITTEN = {"strings_to_formulas": False, "strings_to_urls": False, "strings_to_numbers": False}
"""A cell that begins with = + - or @ stays the text it is; nothing in it can run."""

STAYS_TEXT = {"quote_prefix": True}
"""Such a cell stays text also where a person edits a part of it: spreadsheets show it with an apostrophe before it."""


def quarantine_rows(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return the open quarantined rows, one per column that cannot be trusted.

    Parameters
    ----------
    connection
        Open ledger.

    Returns
    -------
    DataFrame
        quarantine_id, table, file, row_no, column (``whole row`` where no column alone is wrong), value, says,
        vehicle_id, day, planned, source, load_id, row_hash, row (JSON of the row as it was read).
    """
    return answer(connection, "quarantine_rows")


def rows_waiting(rows: pl.DataFrame) -> int:
    """Return how many rows the quarantine holds: a row with several bad columns is one.

    Parameters
    ----------
    rows
        As `quarantine_rows` returns them.
    """
    return rows.select("table", "source", "row_hash").n_unique()


def write_quarantine(connection: duckdb.DuckDBPyConnection, path: Path) -> int:
    """Write the open quarantined rows to a workbook: mend them there and load it.

    Parameters
    ----------
    connection
        Open ledger.
    path
        XLSX file to write.

    Returns
    -------
    int
        Rows written; a row with several bad columns is one row.

    Notes
    -----
    One sheet per table. Every cell is written as text, never as a formula, a number or a link, so that what is read
    back is what was there.
    """
    rows = quarantine_rows(connection)
    written = 0
    made = BytesIO()
    with xlsxwriter.Workbook(made, AS_WRITTEN) as book:
        for name, table in FEED.items():
            sheet = _sheet(rows.filter(pl.col("table") == name), table)
            if sheet.height:
                looks: dict[Any, dict[str, bool]] = dict.fromkeys(sheet.columns, STAYS_TEXT)
                sheet.write_excel(
                    workbook=book, worksheet=name, column_formats=looks, autofit=True, freeze_panes=(1, 0)
                )
                written += sheet.height
        if not written:
            book.add_worksheet("nothing to mend")
    path.write_bytes(made.getvalue())
    return written


def _sheet(rows: pl.DataFrame, table: Table) -> pl.DataFrame:
    as_read = pl.Struct(dict.fromkeys(table.names, pl.String))
    one_per_row = rows.group_by("source", "row_hash", maintain_order=True).agg(
        pl.col(CARRIED).min(),
        pl.col("column").str.join("; "),
        pl.col("value").fill_null("").str.join("; "),
        pl.col("says").str.join("; ").alias("what to do"),
        pl.col("file").first().alias("from file"),
        pl.col("row_no").first().alias("from row"),
        pl.col("row").first(),
    )
    return (
        one_per_row.sort(CARRIED)
        .rename({"source": "from source"})
        .with_columns(pl.col("row").str.json_decode(as_read))
        .select(*[pl.col("row").struct.field(name) for name in table.names], *TELLING, CARRIED)
        .with_columns(pl.all().cast(pl.String))
    )
