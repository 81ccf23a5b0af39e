"""Two-digit years: certain where only one reading lies between the car's building and the day of loading."""

from datetime import date

import pytest

from analytics.records import judge, map_feed
from tests.records.feeds import LOADED_ON, feed, mapped, rows

BLOCKS = """
[settings]
date_order = "dmy"
[[vehicles]]
file = "cars.csv"
columns = { vehicle_id = "Car", built_on = "Built" }
constants = { series = "S1" }
[[repairs]]
file = "jobs.csv"
columns = { record_id = "Job", vehicle_id = "Car", closed_on = "Day", opened_on = "In" }
"""


def ruled(folder, cars, jobs, text=BLOCKS):
    found = mapped(feed(folder, cars=f"Car,Built\n{cars}\n", jobs=f"Job,Car,Day,In\n{jobs}\n"), text)
    return {name: judge(name, found.tables[name], loaded_on=LOADED_ON, settings={}) for name in found.tables}


def read(folder, built, day):
    """Return the day of a job on a car, None where it waits in quarantine."""
    accepted = ruled(folder, f"a,{built}", f"1,a,{day},")["repairs"].accepted
    return accepted["closed_on"][0] if accepted.height else None


@pytest.mark.parametrize(
    ("built", "day", "is_read"),
    [
        ("1962", "03.05.24", date(2024, 5, 3)),
        ("01.03.1962", "03.05.24", date(2024, 5, 3)),
        ("3/1962", "03/05/24", date(2024, 5, 3)),
        ("01.03.62", "03-05-24", date(2024, 5, 3)),
        ("1962", "03.05.70", date(1970, 5, 3)),
        ("", "03.05.70", date(1970, 5, 3)),
        ("1924", "03.05.24", None),
        ("", "03.05.24", None),
        ("1975", "03.05.70", None),
        ("1962", "31.02.24", None),
    ],
)
def test_a_reading_before_the_car_or_after_the_day_of_loading_is_out_of_question(tmp_path, built, day, is_read):
    assert read(tmp_path, built, day) == is_read


def test_what_is_left_is_marked_and_what_is_not_certain_names_both_readings(tmp_path):
    found = ruled(
        tmp_path, "a,01.03.62\nb,", "1,a,03.05.24,\n2,b,03.05.24,\n3,a,04.05.2024,01.05.24\n4,b,01.02.2024,02.01.24"
    )
    repairs = found["repairs"]
    assert rows(repairs.accepted, "record_id", "closed_on", "opened_on", "inferred") == [
        ("1", date(2024, 5, 3), None, "closed_on"),
        ("3", date(2024, 5, 4), date(2024, 5, 1), "opened_on"),
        ("4", date(2024, 2, 1), None, None),
    ]
    (says,) = repairs.quarantined["says"].to_list()
    assert "'03.05.24 (may be 1924-05-03 or 2024-05-03)' is not certain: write the year with four digits" in says
    assert rows(repairs.set_aside, "column", "value") == [("opened_on", "02.01.24 (may be 1924-01-02 or 2024-01-02)")]


def test_a_stated_hundred_is_taken_at_its_word(tmp_path):
    text = BLOCKS.replace("[settings]", "[settings]\ntwo_digit_years = 1927")
    assert ruled(tmp_path, "a,", "1,a,03.05.24,", text)["repairs"].accepted["closed_on"].to_list() == [date(2024, 5, 3)]


def test_a_day_that_may_lie_ahead_is_not_certain(tmp_path):
    feed(tmp_path, counts="Part,Day,On,Due\nP1,2024-05-02,3,01.02.27\n")
    text = """
        [[stock]]
        file = "counts.csv"
        date_order = "dmy"
        columns = { part_no = "Part", counted_on = "Day", on_hand = "On", on_order_due = "Due" }
        """
    found = judge("stock", mapped(tmp_path, text).tables["stock"], loaded_on=LOADED_ON, settings={})
    assert found.accepted["on_order_due"].to_list() == [None]


def test_without_a_stated_order_the_advice_names_four_digits_too(tmp_path):
    found = map_feed(feed(tmp_path, repairs="record_id,vehicle_id,closed_on\nJ1,a,03.05.24\n"))
    (says,) = judge("repairs", found.tables["repairs"], loaded_on=LOADED_ON, settings={}).quarantined["says"]
    assert "write it so, with four digits for the year, or state date_order and two_digit_years" in says


@pytest.mark.parametrize(
    ("written", "day"),
    [
        ("3 May 2024", date(2024, 5, 3)),
        ("03-May-2024", date(2024, 5, 3)),
        ("3rd of May 2024", None),
        ("3rd May 2024", date(2024, 5, 3)),
        ("May 3, 2024", date(2024, 5, 3)),
        ("SEPT 3 2024", date(2024, 9, 3)),
        ("September 2024", date(2024, 9, 15)),
        ("3-May-24", date(2024, 5, 3)),
        ("2024-05-03", date(2024, 5, 3)),
        ("20240503", date(2024, 5, 3)),
        ("3.5.2024 14:05", date(2024, 5, 3)),
        ("5/2024", date(2024, 5, 15)),
        ("3 Mayor 2024", None),
        ("3 Mai 2024", None),
        ("2019-W05", None),
        ("Q1 2024", None),
        ("31 June 2024", None),
        ("45414", None),
    ],
)
def test_shapes_may_be_mixed_in_a_column_and_nothing_else_is_a_day(tmp_path, written, day):
    assert read(tmp_path, "1962", f'"{written}"') == day
