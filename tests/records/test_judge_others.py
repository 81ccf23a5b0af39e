"""The tables beside repairs, and what is filled in where a value is empty."""

from datetime import date

import pytest

from analytics.records.blocks import CONTENT_ID
from tests.records.feeds import MINIMAL, accepted, judged, quarantined, rows, set_aside


@pytest.mark.parametrize(
    ("name", "values", "column"),
    [
        ("vehicles", {"built_on": "x"}, "built_on"),
        ("vehicles", {"built_on": "2027-01-01"}, "built_on"),
        ("vehicles", {"built_on": "1970", "left_on": "1969-01-01"}, "left_on"),
        ("vehicles", {"left_why": "lost"}, "left_why"),
        ("vehicles", {"odometer_digits": "3"}, "odometer_digits"),
        ("vehicles", {"odometer_digits": "5.5"}, "odometer_digits"),
        ("locations", {"x": "1.2"}, "x"),
        ("parts", {"lead_time_days": "40", "lead_time_p90_days": "30"}, "lead_time_p90_days"),
        ("parts", {"pack_size": "0"}, "pack_size"),
        ("stock", {"on_order": "-1"}, "on_order"),
        ("fitted", {"fitted_to": "1998"}, "fitted_to"),
        ("limits", {"lower": "5", "upper": "4"}, "upper"),
        ("readings", {"source": "guess"}, "source"),
    ],
)
def test_optional_values_of_the_other_tables_are_set_aside(name, values, column):
    value, written, _ = set_aside(name, **values)
    assert (value, written) == (None, values[column])


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("vehicles", {"built_on": "2014-09-01", "left_on": "2014"}),
        ("vehicles", {"built_on": "2014", "left_on": "2014-02-01"}),
        ("vehicles", {"built_on": "2014-09-20", "left_on": "2014-09"}),
        ("fitted", {"fitted_from": "2014-09-01", "fitted_to": "2014"}),
    ],
)
def test_rule_01_a_year_or_month_contradicts_a_day_only_where_all_of_it_does(name, values):
    assert all(accepted(name, **values)[column] is not None for column in values)


@pytest.mark.parametrize("left_on", ["2013", "2013-12", "2013-12-31"])
def test_rule_01_a_whole_year_or_month_before_the_other_day_is_set_aside(left_on):
    assert set_aside("vehicles", built_on="2014", left_on=left_on)[0] is None


@pytest.mark.parametrize(
    ("name", "values"),
    [
        ("readings", {"odometer": "12x"}),
        ("readings", {"odometer_unit": "hours"}),
        ("readings", {"read_on": "2026-12-01"}),
        ("stock", {"on_hand": "many"}),
        ("stock", {"counted_on": "2027-01-01"}),
        ("sales", {"quantity": "x"}),
        ("sales", {"sold_on": "2027-01-01"}),
        ("fitted", {"fitted_from": "someday"}),
        ("opinions", {"first_years": "0"}),
        ("opinions", {"first_good": "10"}),
        ("opinions", {"first_good": "nearly all"}),
        ("opinions", {"second_years": "5"}),
        ("opinions", {"second_good": "9"}),
        ("opinions", {"second_good": "0"}),
        ("opinions", {"cars": "0"}),
    ],
)
def test_required_values_of_the_other_tables_cost_the_row(name, values):
    found = quarantined(name, **values)
    assert found["vehicle_id"] == MINIMAL[name].get("vehicle_id")
    assert (found["day"], found["planned"]) == (None, False)


def test_a_part_on_order_may_be_due_after_the_day_of_loading():
    assert accepted("stock", on_order_due="2027-03-01")["on_order_due"] == date(2027, 3, 1)


def test_a_default_is_taken_for_a_bad_value_and_both_are_told():
    found = judged("parts", {"covers_positions": "0"})
    assert rows(found.accepted, "covers_positions", "inferred") == [(1, "covers_positions")]
    assert found.set_aside["column"].to_list() == ["covers_positions"]


def test_the_unit_of_a_bare_figure_is_the_stated_one_and_is_marked():
    found = judged("repairs", {"odometer": "1200", "line_no": "1"}, {"line_no": "1"}, odometer_unit="mi")
    assert rows(found.accepted, "odometer_unit", "inferred") == [("mi", "odometer_unit"), (None, None)]


def test_without_a_stated_unit_a_bare_figure_is_km_and_marked():
    row = accepted("readings", odometer_unit=None)
    assert (row["odometer_unit"], row["inferred"]) == ("km", "odometer_unit")


def test_a_stated_unit_never_overrides_a_written_one():
    found = judged("readings", {"odometer_unit": "km"}, odometer_unit="mi")
    assert rows(found.accepted, "odometer_unit", "inferred") == [("km", None)]


def test_the_stated_currency_goes_with_every_price_and_with_nothing_else():
    found = judged("repairs", {"cost": "5", "line_no": "1"}, {"line_no": "1"}, currency="EUR")
    assert rows(found.accepted, "currency", "inferred") == [("EUR", "currency"), (None, None)]
    assert judged("parts", {"unit_cost": "5"}, currency="EUR").accepted["currency"].to_list() == ["EUR"]
    assert accepted("repairs", cost="5")["currency"] is None


def test_a_number_formed_from_content_is_marked():
    assert accepted("repairs", record_id=f"{CONTENT_ID}ab", line_no="1")["inferred"] == "record_id"
