"""The planted hot spot comes back out of the closed records, and the place that is hot by lines alone does not."""

import json

import polars as pl
import pytest

from tests.snapshot_tables import table

SURE = 0.05


@pytest.fixture(scope="module")
def truth(demo_feed):
    return json.loads((demo_feed.parent / "truth.json").read_text(encoding="utf-8"))["planted"]


@pytest.fixture(scope="module")
def places(demo_dir):
    """Single places: those that are no part of another's name."""
    found = table(demo_dir, "fault_location")
    return found.filter(~pl.col("location").is_in(found["parent"].drop_nulls().to_list()))


def test_truth_3_the_rear_left_wheel_arch_of_one_series_is_the_only_place_that_stands_out(places, truth):
    sure = places.filter(pl.col("scan_p") < SURE)
    assert set(sure["location"]) == {truth["hot spot"]["location"]}
    by_series = {series: rows["basis"].n_unique() for (series,), rows in sure.group_by("series")}
    assert by_series.pop(truth["hot spot"]["series"]) == 2
    assert set(by_series) <= {"all"}


def test_truth_3_the_limits_hold_three_times_the_faults_of_the_other_series(places, truth):
    of_it = (pl.col("location") == truth["hot spot"]["location"]) & (pl.col("series") == truth["hot spot"]["series"])
    row = places.filter(of_it & (pl.col("basis") != "average place")).row(0, named=True)
    assert row["lower"] < truth["hot spot"]["factor"] * 1.2
    assert row["upper"] > truth["hot spot"]["factor"]
    assert row["detectable_ratio"] < truth["hot spot"]["factor"]


def test_truth_3_the_burst_of_lines_at_the_centre_duct_makes_no_hot_spot(places, truth):
    assert truth["burst"]["ratio_by_lines"] > 2
    burst = places.filter(pl.col("location") == truth["burst"]["location"])
    assert burst["scan_p"].to_numpy().min() > SURE
    assert burst["ratio"].to_numpy().max() < truth["burst"]["ratio_by_lines"]


def test_truth_7_faults_without_a_place_are_told_and_do_not_hide_the_hot_spot(places, truth):
    of_it = (pl.col("location") == truth["hot spot"]["location"]) & (pl.col("series") == truth["hot spot"]["series"])
    row = places.filter(of_it & (pl.col("basis") == "average place")).row(0, named=True)
    assert row["blanks"] > 100
    assert row["scan_p_blanks_elsewhere"] < SURE
