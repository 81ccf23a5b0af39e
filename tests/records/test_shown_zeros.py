"""Leading zeros that a number format shows are part of what a person wrote."""

import io

import pytest
import xlsxwriter

from analytics.records.shown_zeros import shown_zeros
from analytics.records.workbook import read_sheets

HEADING = ["part_no", "quantity"]


def book(cells, left=0, top=0):
    """A workbook with a heading and cells of (value, format) below it."""
    to = io.BytesIO()
    with xlsxwriter.Workbook(to) as made:
        formats = {}
        for name in ("parts list", "more"):
            sheet = made.add_worksheet(name)
            sheet.write_row(top, left, HEADING)
            for at, (value, code) in enumerate(cells, start=1):
                shown = formats.setdefault(code, made.add_format({"num_format": code} if code else {}))
                sheet.write(top + at, left, value, shown)
                sheet.write(top + at, left + 1, at)
    return to.getvalue()


def read(content):
    return {name: rows["part_no"].to_list() for name, rows in read_sheets(content, "parts.xlsx")}


@pytest.mark.parametrize(("left", "top"), [(0, 0), (2, 3), (30, 0)])
def test_zeros_that_a_format_shows_are_kept_on_every_sheet(left, top):
    cells = [(1234, "00000"), (7, "00000"), (7, "000"), (123456, "00000"), (8, ""), ("0012", "")]
    expected = ["01234", "00007", "007", "123456", "8", "0012"]
    assert read(book(cells, left, top)) == {"parts list": expected, "more": expected}


def test_numbers_with_parts_and_other_formats_stay():
    cells = [(12.5, "00000"), (-3, "00000"), (0, "00000"), (5, "0.00"), (5, "00000;-00000"), (5, "0")]
    assert read(book(cells))["more"] == ["12.5", "-3", "00000", "5", "00005", "5"]


def test_a_workbook_without_such_a_format_is_not_looked_through():
    assert shown_zeros(book([(5, "0.00")])) == {}
