"""What an order needs besides a quantity: read from the parts list and the stock counts, or left empty."""

from datetime import date

import polars as pl
import pytest

from analytics.stock.terms import terms_of

AS_OF = date(2026, 11, 24)
LIVE = {"part_no": "H2", "series": "S2", "supplier": "rubber works", "unit_cost": 16.0, "currency": "EUR"}
LIVE |= {"lead_time_days": 5.0, "shelf_life_months": 84.0}
PARTS = [{"part_no": "H1", "series": "S1", "supplier": "gone", "unit_cost": 9.0}, LIVE]
STOCK = [
    {"part_no": "H1", "counted_on": date(2026, 3, 1), "on_hand": 1.0, "made_on": date(2019, 5, 1)},
    {"part_no": "H2", "counted_on": date(2025, 3, 1), "on_hand": 4.0, "made_on": date(2015, 5, 1)},
    {"part_no": "H2", "counted_on": date(2026, 5, 1), "on_hand": 2.0, "made_on": date(2024, 5, 1)},
    {"part_no": "H2", "counted_on": date(2026, 5, 1), "on_hand": 0.0, "made_on": date(2018, 5, 1)},
    {"part_no": "H2", "counted_on": date(2027, 5, 1), "on_hand": 9.0, "made_on": date(2010, 5, 1)},
]


def terms(parts=PARTS, stock=STOCK):
    schema = {"part_no": pl.String, "series": pl.String, "supplier": pl.String, "unit_cost": pl.Float64}
    schema |= {"currency": pl.String, "lead_time_days": pl.Float64, "shelf_life_months": pl.Float64}
    counts = {"part_no": pl.String, "counted_on": pl.Date, "on_hand": pl.Float64, "made_on": pl.Date}
    return terms_of(pl.DataFrame(parts, schema=schema), "H2", pl.DataFrame(stock, schema=counts), AS_OF)


def test_the_terms_are_those_of_the_live_number_and_the_series_those_of_all():
    found = terms()
    assert found["fits"] == "S1; S2"
    assert found["also_numbers"] == "H1"
    names = ("supplier", "unit_cost", "currency", "lead_time_days", "shelf_life_months")
    assert [found[name] for name in names] == ["rubber works", 16.0, "EUR", 5.0, 84.0]


def test_the_day_of_the_count_and_of_the_oldest_batch_are_those_of_the_newest_counts():
    """By hand: newest counts up to the day are those of March 2026 and May 2026; an empty batch is none."""
    assert terms()["counted_on"] == date(2026, 3, 1)
    assert terms()["oldest_made_on"] == date(2019, 5, 1)
    assert terms(stock=STOCK[1:])["oldest_made_on"] == date(2024, 5, 1)


def test_a_part_that_no_list_names_has_no_terms():
    assert set(terms(parts=[], stock=[]).values()) == {None}


def test_a_part_without_a_series_fits_every_one():
    assert terms(parts=[*PARTS, {**LIVE, "series": None}])["fits"] == "all"


@pytest.mark.parametrize("cost", [-1.0, 1e12, None])
def test_a_cost_that_is_none_is_left_out_and_its_currency_with_it(cost):
    found = terms(parts=[{**LIVE, "unit_cost": cost}])
    assert (found["unit_cost"], found["currency"]) == (None, None)
