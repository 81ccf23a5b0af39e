"""What becomes of a row: rules 1 and 3, value by value, for every native table."""

import json
from datetime import date

import polars as pl
import pytest

from analytics.records import judge
from analytics.records.blocks import UNREAD
from analytics.records.feed import ACTIONS, FEED, REASONS
from tests.records.feeds import LOADED_ON, MINIMAL, accepted, judged, quarantined, rows, set_aside, text_table


@pytest.mark.parametrize("name", FEED)
def test_the_least_a_row_needs_is_enough_and_comes_back_typed(name):
    found = judged(name, {})
    assert found.accepted.schema == {
        **FEED[name].schema,
        "file": pl.String,
        "row_no": pl.Int64,
        "inferred": pl.String,
    }
    assert found.accepted.height == 1
    assert found.quarantined.is_empty()
    assert found.set_aside.is_empty()


@pytest.mark.parametrize("name", FEED)
def test_a_table_without_rows_is_judged(name):
    found = judge(name, text_table(name, {}).clear(), loaded_on=LOADED_ON, settings={})
    assert (found.accepted.height, found.quarantined.height, found.set_aside.height) == (0, 0, 0)
    assert found.quarantined.schema == judged(name, {}).quarantined.schema


@pytest.mark.parametrize(("name", "column"), [(name, column) for name, row in MINIMAL.items() for column in row])
def test_rule_03_a_missing_required_value_costs_the_row(name, column):
    if column in FEED[name].required:
        found = quarantined(name, **{column: None})
        assert found["column"] == column
        assert found["says"] == f"{column} ({FEED[name].column(column).meaning}) is empty"


# rule 1: dates


@pytest.mark.parametrize(
    ("written", "day", "inferred"),
    [
        ("2024-05-02", date(2024, 5, 2), False),
        ("2024-5-2", date(2024, 5, 2), False),
        ("2024/05/02", date(2024, 5, 2), False),
        ("20240502", date(2024, 5, 2), False),
        ("2024-05-02 00:00:00", date(2024, 5, 2), False),
        ("2024-05-02T13:30:00Z", date(2024, 5, 2), False),
        (" 2024-05-02 ", date(2024, 5, 2), False),
        ("2024-05", date(2024, 5, 15), True),
        ("2024/5", date(2024, 5, 15), True),
        ("1966", date(1966, 7, 1), True),
    ],
)
def test_rule_01_a_bare_year_is_1_july_and_a_month_the_15th_both_marked(written, day, inferred):
    row = accepted("repairs", closed_on=written, line_no="1")
    assert row["closed_on"] == day
    assert row["inferred"] == ("closed_on" if inferred else None)


def test_rule_01_opened_on_after_closed_on_is_set_aside_as_a_value_and_the_line_stays():
    value, written, says = set_aside("repairs", opened_on="2024-05-03", closed_on="2024-05-02")
    assert (value, written) == (None, "2024-05-03")
    assert says == "opened_on (day the car came in): '2024-05-03' is after closed_on"


def test_opened_on_may_be_the_day_of_closing():
    assert accepted("repairs", opened_on="2024-05-02")["opened_on"] == date(2024, 5, 2)


# rule 3: what costs the line


@pytest.mark.parametrize("written", ["02.05.2024", "2024-02-30", "soon", "24-05-02", "1884-12-31", "0000", "2024-13"])
def test_rule_03_a_line_without_a_readable_closed_on_goes_to_quarantine(written):
    found = quarantined("repairs", closed_on=written)
    assert (found["column"], found["value"], found["day"]) == ("closed_on", written, None)
    assert str(found["says"]).startswith(f"closed_on (day the job was closed): '{written}' is ")


def test_rule_03_a_line_closed_after_the_day_of_loading_goes_to_quarantine():
    assert accepted("repairs", closed_on=str(LOADED_ON))["closed_on"] == LOADED_ON
    found = quarantined("repairs", closed_on="2026-11-25", opened_on="2026-11-20")
    assert "is after the day of loading, 2026-11-24" in str(found["says"])
    assert found["day"] == date(2026, 11, 20)


@pytest.mark.parametrize("column", ["action", "reason"])
def test_rule_03_an_action_or_reason_outside_the_list_costs_the_line_and_the_list_is_shown(column):
    found = quarantined("repairs", **{column: "swapped"})
    assert (found["column"], found["value"]) == (column, "swapped")
    known = ACTIONS if column == "action" else REASONS
    assert ", ".join(known) in str(found["says"])


@pytest.mark.parametrize(("column", "words"), [("action", ACTIONS), ("reason", REASONS)])
def test_every_word_of_the_list_is_accepted_in_any_case_and_an_empty_one_too(column, words):
    for word in (*words, None):
        assert accepted("repairs", **{column: word and f"  {word.upper()} "})[column] == word


def test_all_reasons_of_one_row_are_told_in_one_sentence_and_the_first_is_named():
    found = quarantined("repairs", vehicle_id=None, closed_on="x", action="y")
    assert found["column"] == "vehicle_id"
    places = [str(found["says"]).index(f"{name} (") for name in ("vehicle_id", "closed_on", "action")]
    assert places == sorted(places)


def test_rule_03_car_day_and_whether_it_was_planned_are_kept_so_that_the_visit_counts():
    found = quarantined("repairs", action="swapped", reason="planned", opened_on="2024-05-01")
    assert (found["vehicle_id"], found["day"], found["planned"]) == ("car1", date(2024, 5, 1), True)
    found = quarantined("repairs", action="swapped")
    assert (found["day"], found["planned"]) == (date(2024, 5, 2), False)


def test_a_quarantined_row_keeps_all_its_text_for_mending():
    found = quarantined("repairs", action="swapped", note='says "no"', odometer="12x")
    kept = json.loads(str(found["row"]))
    assert (kept["action"], kept["note"], kept["odometer"]) == ("swapped", 'says "no"', "12x")
    assert set(kept) == set(FEED["repairs"].names)


def test_a_row_that_could_not_be_split_is_quarantined_with_its_reason():
    table = text_table("repairs", {}, {}).with_columns(pl.Series(UNREAD, [None, "4 fields where the heading has 3"]))
    found = judge("repairs", table, loaded_on=LOADED_ON, settings={})
    assert rows(found.quarantined, "row_no", "column", "says") == [(2, "", "4 fields where the heading has 3")]
    assert found.accepted["row_no"].to_list() == [1]


# rule 3: what is set aside alone


@pytest.mark.parametrize(
    ("column", "written"),
    [
        ("odometer", "12x"),
        ("odometer", "-1"),
        ("odometer", "10000000"),
        ("odometer", "inf"),
        ("odometer", "nan"),
        ("odometer", "1,5"),
        ("opened_on", "30.04.2024"),
        ("opened_on", "1700-01-01"),
        ("quantity", "two"),
        ("cost", "12,50"),
        ("cost", "NaN"),
        ("labour_minutes", "-5"),
        ("measured", "1/2"),
        ("came_for", "perhaps"),
        ("part_origin", "found"),
        ("currency", "euro"),
    ],
)
def test_rule_03_a_bad_value_is_set_aside_alone_and_the_line_stays(column, written):
    value, seen, says = set_aside("repairs", **{column: written})
    assert (value, seen) == (None, written)
    assert says.startswith(f"{column} (")


@pytest.mark.parametrize(
    ("column", "written", "value"),
    [
        ("odometer", "0", 0.0),
        ("odometer", "9999999", 9_999_999.0),
        ("quantity", "-1", -1.0),
        ("quantity", "0", 0.0),
        ("cost", "-12.5", -12.5),
        ("cost", "+3", 3.0),
        ("measured", "1e-3", 0.001),
        ("currency", "eur", "EUR"),
    ],
)
def test_credits_zeros_and_the_ends_of_a_range_are_values(column, written, value):
    assert accepted("repairs", **{column: written})[column] == value


def test_an_odometer_in_an_unknown_unit_is_set_aside_with_its_unit():
    found = judged("repairs", {"odometer": "1200", "odometer_unit": "hours"})
    assert found.set_aside["column"].to_list() == ["odometer", "odometer_unit"]
    assert rows(found.accepted, "odometer", "odometer_unit", "inferred") == [(None, None, "line_no")]


@pytest.mark.parametrize(("written", "value"), [("yes", True), ("No", False), ("true", True), ("0", False)])
def test_yes_and_no_become_truth_values(written, value):
    assert accepted("repairs", came_for=written)["came_for"] is value


def test_a_line_number_is_1_where_there_is_none_and_costs_the_row_where_it_is_no_number():
    assert accepted("repairs", line_no=None)["line_no"] == 1
    assert accepted("repairs", line_no=None)["inferred"] == "line_no"
    assert accepted("repairs", line_no="3.0")["line_no"] == 3
    assert quarantined("repairs", line_no="a")["column"] == "line_no"
    assert quarantined("repairs", line_no="1.5")["column"] == "line_no"


def test_rows_keep_their_order_file_and_number():
    lines = [{"closed_on": "x" if n % 3 == 0 else "2024"} for n in range(1, 8)]
    found = judged("repairs", *lines)
    assert found.accepted["row_no"].to_list() == [1, 2, 4, 5, 7]
    assert found.quarantined["row_no"].to_list() == [3, 6]
    assert set(found.accepted["file"]) == {"typed.csv"}


@pytest.mark.parametrize(
    ("written", "says"),
    [
        ("2023-02-31", "is no day of the calendar: correct it"),
        ("31.02.2023", "is not a date as yyyy-mm-dd: write it so, or state date_order in a mapping"),
    ],
)
def test_a_refused_day_says_what_to_do(written, says):
    assert says in quarantined("repairs", closed_on=written)["says"]
