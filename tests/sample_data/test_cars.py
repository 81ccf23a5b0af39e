"""The fleet: how many cars are in care, how old, how used, how often seen, and who leaves."""

from collections import Counter
from datetime import date, timedelta
from statistics import median

import polars as pl
import pytest

from tests.sample_data.feed import jobs, table, truth


@pytest.fixture(scope="module")
def cars(demo_feed):
    return truth(demo_feed).cars


def years(first, last):
    return (date.fromisoformat(last) - date.fromisoformat(first)).days / 365.25


def test_about_160_cars_are_in_care_on_every_day(cars):
    day = date(2012, 11, 25)
    while day <= date(2026, 11, 24):
        here = sum(car.joined <= day.isoformat() and (not car.left or day.isoformat() < car.left) for car in cars)
        assert 150 <= here <= 170, day
        day += timedelta(days=7)


def test_every_car_of_the_feed_is_one_that_was_seen(demo_feed, cars):
    assert set(table(demo_feed, "vehicles")["vehicle_id"]) == {car.vehicle_id for car in cars if car.seen}
    assert set(jobs(demo_feed)["vehicle_id"]) == {car.vehicle_id for car in cars if car.seen}
    assert len({car.serial for car in cars}) == len(cars)


def test_truth_7_records_start_20_to_40_years_after_building_for_four_in_five(cars):
    ages = [years(car.built, car.joined) for car in cars]
    assert sum(20 <= age <= 40.01 for age in ages) / len(ages) == pytest.approx(0.8, abs=0.05)
    assert min(car.built for car in cars) >= "1966"
    assert max(car.built for car in cars) < "1992"


def test_series_follow_from_the_year_of_building(cars):
    for series, low, high in (("S1", 1966, 1971), ("S2", 1971, 1980), ("S3", 1980, 1991)):
        built = [int(car.built[:4]) for car in cars if car.series == series]
        assert low <= min(built) <= max(built) <= high
        assert len(built) > 30


def test_regimes_have_their_shares(cars):
    shares = Counter(car.regime for car in cars)
    for regime, share in (("yearly", 0.55), ("mixed", 0.30), ("breakdown only", 0.15)):
        assert shares[regime] / len(cars) == pytest.approx(share, abs=0.02)


def test_use_is_lognormal_with_six_in_a_hundred_above_ten_thousand(cars):
    use = [car.km_per_year for car in cars]
    assert sum(km > 10_000 for km in use) / len(use) == pytest.approx(0.06, abs=0.01)
    assert median(km for km in use if km <= 10_000) == pytest.approx(1_800, rel=0.15)


def test_most_cars_rest_from_november_to_march(cars):
    assert 0.5 < sum(car.lay_up for car in cars) / len(cars) < 0.8


def test_truth_7_eight_in_a_hundred_come_for_breakdowns_and_vanish(demo_feed, cars):
    vanish = {car.vehicle_id for car in cars if car.vanishes}
    assert len(vanish) / len(cars) == pytest.approx(0.08, abs=0.01)
    left = table(demo_feed, "vehicles").filter(pl.col("vehicle_id").is_in(sorted(vanish)))
    assert left["left_on"].null_count() == left.height
    planned = jobs(demo_feed).filter(pl.col("vehicle_id").is_in(sorted(vanish)), pl.col("reason") == "planned")
    services = planned.filter(pl.col("action") == "inspected", pl.col("component").is_not_null())
    assert services.height == 0


def test_truth_12_about_an_eighth_leaves_each_year_and_as_many_join(cars):
    left = sum(bool(car.left) for car in cars) / 14 / 160
    joined = sum(not car.from_start for car in cars) / 14 / 160
    assert left == pytest.approx(0.12, abs=0.015)
    assert joined == pytest.approx(0.12, abs=0.015)


def test_nobody_is_seen_after_leaving(demo_feed):
    left = table(demo_feed, "vehicles").select("vehicle_id", "left_on").drop_nulls()
    assert left.height > 80
    seen = jobs(demo_feed).join(left, on="vehicle_id")
    assert seen.filter(pl.col("closed_on") > pl.col("left_on").str.to_date()).height == 0
    read = table(demo_feed, "readings").join(left, on="vehicle_id")
    assert read.filter(pl.col("read_on") > pl.col("left_on")).height == 0


def test_truth_7_the_age_of_nine_in_ten_parts_is_unknown_on_the_first_visit(demo_feed):
    told = truth(demo_feed).planted["known ages"]
    assert table(demo_feed, "fitted").height == told["count"]
    assert told["count"] / told["out_of"] == pytest.approx(0.10, abs=0.015)


def test_papers_tell_of_days_before_the_car_joined(demo_feed, cars):
    joined = pl.DataFrame({"vehicle_id": [c.vehicle_id for c in cars], "joined": [c.joined for c in cars]})
    told = table(demo_feed, "fitted").join(joined, on="vehicle_id")
    assert told.filter(pl.coalesce("fitted_to", "fitted_from") >= pl.col("joined")).height == 0
    assert told.filter(pl.col("fitted_to") < pl.col("fitted_from")).height == 0
