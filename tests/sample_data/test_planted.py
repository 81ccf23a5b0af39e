"""Each planted truth is in the records, found again by the simplest count that can see it."""

from collections import Counter
from datetime import date, timedelta

import polars as pl
import pytest

from tests.sample_data.feed import jobs, truth

FAILED = pl.col("reason").is_in(["failure", "not recorded", "found at inspection"]) | pl.col("reason").is_null()


@pytest.fixture(scope="module")
def lines(demo_feed):
    return jobs(demo_feed)


@pytest.fixture(scope="module")
def planted(demo_feed):
    return truth(demo_feed).planted


def faults(lines, component):
    return lines.filter(pl.col("component") == component, FAILED, pl.col("action") != "inspected")


def days_of(frame):
    days = {}
    for row in frame.iter_rows(named=True):
        days.setdefault(row["vehicle_id"], set()).add(row["day"])
    return days


def within(first, then, window=120):
    return sum(
        any(timedelta() < b - a <= timedelta(window) for a in days for b in then.get(car, ()))
        for car, days in first.items()
    )


def test_truth_1_both_compounds_are_fitted_and_the_first_only_until_year_six(lines, planted):
    fitted = lines.filter(pl.col("component") == planted["flap actuators"]["component"])
    first, second = (fitted.filter(pl.col("part_no") == number) for number in ("SL-7101", "SL-7102"))
    assert first.height > 150
    assert second.height > 600
    assert first["day"].max() < date(2018, 11, 26)
    assert second.filter(pl.col("day") < date(2018, 11, 25)).height > 100
    assert first.filter(pl.col("series") == "S3").height == 0
    assert first.filter(pl.col("series") == "S2", pl.col("serial") > "LW2-08099").height == 0
    both = second.filter(pl.col("day") < date(2018, 11, 25), pl.col("serial") <= "LW2-08099")
    assert both.height > 20


def test_truth_1_units_of_the_first_compound_come_back_sooner(lines):
    """Of units fitted in the first six years at a named position, the share renewed within six years."""
    flaps = lines.filter(pl.col("component") == "flap actuator", pl.col("position").is_not_null())
    fitted = flaps.filter(pl.col("part_no").is_not_null(), pl.col("day") < date(2018, 11, 25))
    shares = {}
    for number in ("SL-7101", "SL-7102"):
        came = 0
        units = fitted.filter(pl.col("part_no") == number)
        for row in units.iter_rows(named=True):
            later = flaps.filter(
                pl.col("vehicle_id") == row["vehicle_id"],
                pl.col("position") == row["position"],
                FAILED,
                pl.col("day") > row["closed_on"],
                pl.col("day") <= row["closed_on"] + timedelta(6 * 365),
            )
            came += later.height > 0
        shares[number] = came / units.height
    assert shares["SL-7101"] > 2 * shares["SL-7102"]


def test_truth_2_components_wear_by_the_scale_they_are_said_to(demo_feed):
    laws = {law.code: law for law in truth(demo_feed).laws if law.variant == "all"}
    assert {code for code in ("dist", "vpump", "wbear", "clutch") if laws[code].scale == "distance"} == {
        "dist",
        "vpump",
        "wbear",
        "clutch",
    }
    assert {laws[code].scale for code in ("hose", "accumulator", "vact", "bhose", "carb")} == {"age"}
    assert laws["coup"].scale == laws["wpump"].scale == "mixed"


@pytest.mark.parametrize(("component", "heavy"), [("distributor cap and rotor", True), ("battery", False)])
def test_truth_2_only_distance_driven_parts_fail_more_often_in_cars_much_used(demo_feed, lines, component, heavy):
    cars = truth(demo_feed).cars
    rates = []
    for many in (True, False):
        group = {c.vehicle_id: c for c in cars if c.seen and (c.km_per_year > 5_000) == many}
        days = sum(
            (date.fromisoformat(c.left or "2026-11-24") - date.fromisoformat(c.joined)).days for c in group.values()
        )
        rates.append(faults(lines, component).filter(pl.col("vehicle_id").is_in(sorted(group))).height / days)
    ratio = rates[0] / rates[1]
    assert ratio > 3 if heavy else 0.7 < ratio < 1.4


def counted_places(lines, series, by):
    told = lines.filter(FAILED | (pl.col("reason") == "consequence"), pl.col("location").is_not_null())
    told = told if series is None else told.filter(pl.col("series") == series)
    told = told if by == "lines" else told.select("record_id", "vehicle_id", "location").unique()
    counts = Counter(told["location"])
    return counts, sum(counts.values()) / 41


def test_truth_3_one_place_of_one_series_is_three_times_as_often_faulty(lines, planted):
    hot = planted["hot spot"]
    assert (hot["location"], hot["series"]) == ("rear left wheel arch", "S2")
    for series, ratio in (("S1", 1.0), ("S2", 3.0), ("S3", 1.0)):
        counts, average = counted_places(lines, series, "orders")
        assert counts[hot["location"]] / average == pytest.approx(ratio, abs=0.45)
        others = [count for place, count in counts.items() if place != hot["location"]]
        assert max(others) / average < 1.8


def test_truth_3_a_burst_of_lines_is_no_burst_of_orders(lines, planted):
    place = planted["burst"]["location"]
    by_lines, average_lines = counted_places(lines, None, "lines")
    by_orders, average_orders = counted_places(lines, None, "orders")
    assert by_lines[place] / average_lines > 3
    assert by_orders[place] / average_orders == pytest.approx(1.0, abs=0.2)


def test_truth_4_the_valve_follows_the_pump_and_not_the_other_way_round(lines, planted):
    pump, valve = (days_of(faults(lines, planted["induced"][which])) for which in ("first", "then"))
    assert within(pump, valve) >= 10
    assert within(valve, pump) <= 2
    assert planted["induced"]["share"] == pytest.approx(0.12, abs=0.02)


def test_truth_4_the_decoy_pair_comes_in_either_order(lines, planted):
    a, b = (days_of(faults(lines, planted["decoy"][which])) for which in ("first", "then"))
    there, back = within(a, b), within(b, a)
    assert there + back >= 5
    assert abs(there - back) <= 3


@pytest.mark.parametrize(("action", "share"), [("overhauled", 0.14), ("exchanged", 0.04)])
def test_truth_5_so_many_window_motors_come_back_within_90_days(lines, planted, action, share):
    motors = lines.filter(pl.col("component") == "window motor", pl.col("position").is_not_null())
    failed = motors.filter(pl.col("reason") == "failure")
    back = watched = 0
    for row in motors.filter(pl.col("action") == action, pl.col("day") < date(2026, 8, 20)).iter_rows(named=True):
        same = failed.filter(pl.col("vehicle_id") == row["vehicle_id"], pl.col("position") == row["position"])
        gaps = [(day - row["closed_on"]).days for day in same["day"]]
        watched += 1
        back += any(0 < gap <= 90 for gap in gaps)
    assert watched > 90
    assert back / watched == pytest.approx(share, abs=0.03)
    assert planted["returns"][action]["share"] == pytest.approx(share, abs=0.01)


def test_truth_5_some_visits_after_a_window_motor_find_nothing(lines):
    found_nothing = lines.filter(pl.col("component") == "window motor", pl.col("reason") == "no fault found")
    assert found_nothing.height > 15
    assert set(found_nothing["action"]) == {"inspected"}
