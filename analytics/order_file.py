"""Write the order list as a workbook or as CSV: typed cells, and nothing in them that a spreadsheet would run."""

from __future__ import annotations

from datetime import date, datetime, time
from io import BytesIO
from typing import TYPE_CHECKING, Any

import polars as pl
import xlsxwriter  # type: ignore[import-untyped]

from analytics.cells import neutralised, risky
from analytics.errors import OutputError

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.order_list import OrderList

WRAPPED = {"why": 60, "check first": 60}
"""Columns of sentences, and how wide they are, characters."""

WIDEST, NARROWEST, WIDE_DATE = 34, 7, 13
MONEY = ("unit cost", "sum")
KINDS = (".xlsx", ".csv")


def write_order_list(orders: OrderList, path: Path) -> None:
    """Write the list to a new file, as a workbook or as CSV by its ending.

    Parameters
    ----------
    orders
        What to order.
    path
        File to write, ending in ``.xlsx`` or ``.csv``; one that is there stays as it is.

    Raises
    ------
    OutputError
        If the name is that of neither, or the file is there already.
    OSError
        If the file cannot be written.
    """
    where = "restock --to"
    if path.suffix.lower() not in KINDS:
        raise OutputError(
            f"{path} is neither a workbook nor CSV", where=where, next_step="name a file that ends in .xlsx or .csv"
        )
    if path.exists():
        raise OutputError(
            f"{path} is already there, and may be an order that somebody changed",
            where=where,
            next_step="name another file, or move that one away",
        )
    made = as_workbook(orders) if path.suffix.lower() == ".xlsx" else as_csv(orders)
    with path.open("xb") as file:
        file.write(made)


def as_csv(orders: OrderList) -> bytes:
    """Return the rows as CSV in UTF-8, days as yyyy-mm-dd, an apostrophe before what a spreadsheet would run.

    Parts of which no order can be told come last, with the reason and an empty order.
    """
    return neutralised(pl.concat([orders.rows, orders.untold], how="diagonal")).write_csv().encode()


def as_workbook(orders: OrderList) -> bytes:
    """Return a workbook of four sheets: the order, its sums by supplier, what no order can be told of, how to read it.

    Parameters
    ----------
    orders
        What to order.

    Notes
    -----
    Numbers are numbers and days are days; text is written as text and never as a formula or a link, and where it
    begins like a formula it is marked as text for whoever edits it. The same snapshot gives the same bytes.
    """
    made = BytesIO()
    with xlsxwriter.Workbook(made, {"strings_to_formulas": False, "strings_to_urls": False}) as book:
        book.set_properties({"title": "Order list", "created": datetime.combine(orders.as_of, time())})
        looks = _looks(book)
        _write_sheet(book.add_worksheet("order"), orders.rows, looks, frozen=2)
        _write_sheet(book.add_worksheet("by supplier"), orders.by_supplier(), looks, frozen=1)
        _write_sheet(book.add_worksheet("no order told"), orders.untold, looks, frozen=2)
        about = book.add_worksheet("about")
        about.set_column(0, 0, 50)
        about.set_column(1, 1, 60)
        for row, (name, value) in enumerate(orders.told()):
            about.write_string(row, 0, name, looks["text"])
            _write(about, row, 1, value, "told", looks)
    return made.getvalue()


def _looks(book: Any) -> dict[str, Any]:  # noqa: ANN401 - the workbook's library declares no types
    """Return the formats by name."""
    top = {"valign": "top"}
    return {
        "heading": book.add_format({"bold": True, "bottom": 1, "text_wrap": True, **top}),
        "text": book.add_format({**top, "num_format": "@"}),
        "wrapped": book.add_format({**top, "num_format": "@", "text_wrap": True}),
        "marked": book.add_format({**top, "num_format": "@", "quote_prefix": True}),
        "number": book.add_format(top),
        "money": book.add_format({**top, "num_format": "#,##0.00"}),
        "day": book.add_format({**top, "num_format": "yyyy-mm-dd", "align": "left"}),
    }


def _write_sheet(sheet: Any, frame: pl.DataFrame, looks: dict[str, Any], *, frozen: int) -> None:  # noqa: ANN401 - as above
    sheet.freeze_panes(1, frozen)
    for at, name in enumerate(frame.columns):
        sheet.set_column(at, at, _width(frame[name]))
        sheet.write_string(0, at, name, looks["heading"])
    for row, values in enumerate(frame.iter_rows(), start=1):
        for at, (name, value) in enumerate(zip(frame.columns, values, strict=True)):
            _write(sheet, row, at, value, name, looks)
    sheet.autofilter(0, 0, frame.height, frame.width - 1)
    sheet.ignore_errors({"number_stored_as_text": f"A1:{_column(frame.width - 1)}{frame.height + 1}"})
    sheet.set_landscape()
    sheet.set_paper(9)  # A4
    sheet.fit_to_pages(1, 0)
    sheet.repeat_rows(0)


def _write(sheet: Any, row: int, at: int, value: object, name: str, looks: dict[str, Any]) -> None:  # noqa: ANN401
    """Write one cell by the type of its value; what is not known stays empty."""
    if isinstance(value, date):
        sheet.write_datetime(row, at, datetime.combine(value, time()), looks["day"])
    elif isinstance(value, int | float):
        sheet.write_number(row, at, value, looks["money" if name in MONEY else "number"])
    elif isinstance(value, str):
        look = "marked" if risky(value) else "wrapped" if name in WRAPPED or name == "told" else "text"
        sheet.write_string(row, at, value, looks[look])


def _width(column: pl.Series) -> int:
    """Return how wide a column is, characters: as its longest word or figure, within reason."""
    if column.name in WRAPPED:
        return WRAPPED[column.name]
    if column.dtype == pl.Date:
        return WIDE_DATE
    longest = column.cast(pl.String).str.len_chars().to_numpy() if column.drop_nulls().len() else [0]
    heading = max(len(word) for word in column.name.split())
    return min(max(int(max(n for n in longest if n == n)) + 2, heading + 3, NARROWEST), WIDEST)


def _column(at: int) -> str:
    return chr(ord("A") + at)
