"""Dates and numbers as exports write them."""

import polars as pl
import pytest

from analytics.records.mapping import Format
from analytics.records.notation import iso_dates, plain_numbers


def dates(written: str, *, from_sheet: bool = False, **notation) -> str:
    frame = pl.DataFrame({"d": [written]})
    return frame.select(iso_dates(pl.col("d"), Format(**notation), from_sheet=from_sheet).alias("d"))["d"][0]


def numbers(written: str, decimal: str, thousands: str) -> str:
    notation = Format(decimal=decimal, thousands=thousands)
    return pl.DataFrame({"n": [written]}).select(plain_numbers(pl.col("n"), notation).alias("n"))["n"][0]


@pytest.mark.parametrize(
    ("order", "written", "iso"),
    [
        ("dmy", "1/07/2006", "2006-07-01"),
        ("dmy", "27.3.2007", "2007-03-27"),
        ("dmy", "27-03-2007 14:05", "2007-03-27"),
        ("dmy", "3/2007", "2007-03"),
        ("dmy", "2007-03-27", "2007-03-27"),
        ("dmy", "2007", "2007"),
        ("mdy", "07/01/2006", "2006-07-01"),
        ("mdy", "12/31/1999", "1999-12-31"),
        ("ym", "1974-12", "1974-12"),
        ("ym", "12/1974", "1974-12"),
        ("iso", "1974-12-01", "1974-12-01"),
    ],
)
def test_dates_become_iso_in_the_stated_order(order, written, iso):
    assert dates(written, date_order=order) == iso


@pytest.mark.parametrize(("order", "written"), [("iso", "1/07/2006"), ("ym", "5/6/07"), ("dmy", "next week")])
def test_a_date_that_fits_no_stated_order_is_left_to_be_judged(order, written):
    assert dates(written, date_order=order) == written


def test_a_day_and_month_are_never_swapped_to_make_a_date_possible():
    assert dates("13/13/2006", date_order="dmy") == "2006-13-13"
    assert dates("31/12/2006", date_order="mdy") == "2006-31-12"


@pytest.mark.parametrize(
    ("written", "iso"), [("5/6/07", "2007-06-05"), ("5/6/26", "2026-06-05"), ("5/6/27", "1927-06-05")]
)
def test_two_digit_years_lie_in_the_stated_hundred(written, iso):
    assert dates(written, date_order="dmy", two_digit_years=1927) == iso


def test_both_readings_of_a_two_digit_year_are_named_where_nobody_states_the_hundred():
    assert dates("5/6/07", date_order="dmy") == "5/6/07 (may be 1907-06-05 or 2007-06-05)"
    assert dates("5/6/07", date_order="mdy") == "5/6/07 (may be 1907-05-06 or 2007-05-06)"


@pytest.mark.parametrize(("written", "iso"), [("45414", "2024-05-02"), ("45414.75", "2024-05-02"), ("1966", "1966")])
def test_serial_dates_of_a_workbook_become_days(written, iso):
    assert dates(written, from_sheet=True) == iso


def test_a_five_digit_number_in_a_text_file_is_no_date():
    assert dates("45414") == "45414"


@pytest.mark.parametrize(
    ("written", "decimal", "thousands", "plain"),
    [
        ("1.234,50", ",", ".", "1234.50"),
        ("-1.234.567", ",", ".", "-1234567"),
        ("12,5", ",", "", "12.5"),
        ("1,234.5", ".", ",", "1234.5"),
        ("1'234", ".", "'", "1234"),
        ("12.5", ".", "", "12.5"),
        (".5", ".", ",", ".5"),
        ("-,25", ",", ".", "-.25"),
    ],
)
def test_numbers_get_a_decimal_point_and_no_thousands_mark(written, decimal, thousands, plain):
    assert numbers(written, decimal, thousands) == plain


@pytest.mark.parametrize(
    ("written", "decimal", "thousands"), [("1.5", ",", ""), ("1.50", ",", "."), ("1,23", ".", ",")]
)
def test_a_number_written_otherwise_than_stated_is_never_read(written, decimal, thousands):
    found = numbers(written, decimal, thousands)
    assert found.startswith(written)
    assert f"not written with decimal mark {decimal}" in found
