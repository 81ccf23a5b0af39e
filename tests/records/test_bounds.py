"""Numbers that no workshop can mean are set aside, or cost the row where they are required."""

import pytest

from analytics.errors import FeedError
from analytics.records.feed import FEED
from analytics.records.mapping_file import parse_mapping_text
from analytics.records.values import RANGES
from tests.records.feeds import accepted, quarantined, set_aside

BEYOND = ["1e308", "1e400", "-1e400", "inf", "-inf", "Infinity", "nan", "NaN", "1e22"]
OPTIONAL = [
    (table.name, column.name)
    for table in FEED.values()
    for column in table.columns
    if column.kind in {"number", "whole"} and column.nullable and column.default is None
]
OPINION = ("first_years", "first_good", "second_years", "second_good", "cars")
REQUIRED = [
    *[("readings", "odometer"), ("stock", "on_hand"), ("sales", "quantity"), ("repairs", "line_no")],
    *[("opinions", name) for name in OPINION],
]


def test_every_column_of_numbers_has_bounds():
    assert {column for _, column in (*OPTIONAL, *REQUIRED)} | {"covers_positions"} == set(RANGES)


@pytest.mark.parametrize("written", BEYOND)
@pytest.mark.parametrize(("name", "column"), OPTIONAL)
def test_a_boundless_number_is_set_aside(name, column, written):
    value, told, says = set_aside(name, **{column: written})
    assert (value, told) == (None, written)
    low, high = RANGES[column]
    assert f"from {low:.0f} to {high:.0f}" in says


@pytest.mark.parametrize("written", BEYOND)
@pytest.mark.parametrize(("name", "column"), REQUIRED)
def test_a_boundless_number_costs_the_row_where_it_is_required(name, column, written):
    assert quarantined(name, **{column: written})["column"] == column


@pytest.mark.parametrize(
    ("name", "column", "greatest", "above"),
    [
        ("repairs", "quantity", "10000", "10001"),
        ("repairs", "cost", "1000000000", "1000000001"),
        ("repairs", "odometer", "9999999", "10000000"),
        ("parts", "lead_time_days", "3650", "3651"),
        ("parts", "pack_size", "100000", "100001"),
        ("parts", "minimum_order", "100000", "100001"),
        ("stock", "on_order", "10000000", "10000001"),
    ],
)
def test_the_greatest_possible_value_is_taken_and_none_above(name, column, greatest, above):
    assert accepted(name, **{column: greatest})[column] == float(greatest)
    assert set_aside(name, **{column: above})[:2] == (None, above)


@pytest.mark.parametrize("level", ["0.4999", "0.9999999999", "nan", "-inf", "1", "true"])
def test_a_service_level_that_no_stock_can_keep_is_refused(level):
    with pytest.raises(FeedError) as refusal:
        parse_mapping_text(f"[settings]\nservice_level = {level}\n", "m")
    assert "from 0.5 to 0.999" in refusal.value.next_step


@pytest.mark.parametrize("days", ["0", "731", "10000000000000000000000", "true", "1.5", "'30'"])
def test_days_between_two_looks_at_the_stock_are_bounded_and_refused_in_one_way(days):
    with pytest.raises(FeedError, match="review_days is") as refusal:
        parse_mapping_text(f"[settings]\nreview_days = {days}\n", "m")
    assert refusal.value.next_step == "write a whole number from 1 to 730, without quotes"
    assert parse_mapping_text("[settings]\nreview_days = 730\nservice_level = 0.999\n", "m").settings.review_days == 730
