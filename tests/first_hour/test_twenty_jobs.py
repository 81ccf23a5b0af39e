"""With twenty jobs the pages already say something true, and where they cannot, how many more it takes."""

from datetime import date

import polars as pl
import pytest

from tests.dashboards.visits import opened, said
from tests.snapshot_tables import table


@pytest.fixture(autouse=True)
def shop(twenty_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(twenty_dir))


def shown(test):
    """The tables of a page, one below the other, by their columns."""
    return [element.value for element in test.dataframe]


def test_one_car_s_history_is_told_with_every_job_of_it():
    test = opened("one-car", car="green saloon")
    assert "Four faults in 2 years of watching." in said(test)
    listed = shown(test)[0]
    assert listed["record_id"].tolist() == ["2", "5", "5", "7", "7", "12", "12"]
    assert listed["part_no"].dropna().tolist() == ["SL-7102", "SL-6101", "SL-6101", "SL-7102", "SL-2102"]


def test_what_was_fitted_when_is_known_to_the_day(twenty_dir):
    now = table(twenty_dir, "unit_now").filter(pl.col("vehicle_id") == "green saloon")
    as_of = date(2026, 10, 12)
    ages = {
        (row["component"], row["position"]): row["age"] for row in now.filter(pl.col("age_known")).iter_rows(named=True)
    }
    assert ages == {
        ("flap actuator", "face left"): (as_of - date(2024, 5, 15)).days,
        ("flap actuator", "foot"): (as_of - date(2026, 5, 7)).days,
        ("fuel hose", "tank to pump"): (as_of - date(2026, 5, 7)).days,
        ("gas accumulator", "rear left"): (as_of - date(2025, 6, 13)).days,
        ("gas accumulator", "rear right"): (as_of - date(2025, 6, 13)).days,
    }


def test_a_fault_found_and_left_is_on_the_front_page_and_at_its_car():
    assert "One fault was found and left on one car, critical for safety." in said(opened("in-short"))
    assert "Found and left:** hydraulic line, underfloor left." in said(opened("one-car", car="green saloon"))


def test_parts_used_this_year_are_listed():
    used = shown(opened("shelf"))[-1]
    assert dict(zip(used["part_no"], used["used"], strict=True)) == {
        "SL-2102": 2.0,
        "SL-1102": 1.0,
        "SL-7102": 1.0,
        "SL-8102": 1.0,
    }


def test_a_component_says_how_many_failures_more_it_takes():
    text = said(opened("lasting", component="flap actuator"))
    assert "2 of the 5 failures needed for a firm figure: three more failures to go." in text
    assert "how much longer, the records do not say" in text


def test_the_front_page_says_it_too():
    text = said(opened("in-short"))
    assert "Flap actuator: too little to say how long it lasts." in text
    assert "2 of the 5 failures needed" in text


def test_where_it_fails_says_that_no_place_can_be_told_from_another_yet():
    text = said(opened("where"))
    assert "No place can be told from another yet: ten faults at ten places" in text
    assert "2 of 12 faults name no place" in text


def test_no_life_of_fewer_than_five_failures_is_told_in_ink(twenty_dir):
    models = table(twenty_dir, "life_model")
    assert models["failures"].max() < 5
    assert models.filter(pl.col("life50").is_not_null() & (pl.col("status") == "ok")).is_empty()
