"""Spells on both scales: rules 26 to 31."""

from datetime import date

import polars as pl
import pytest

from analytics.spells.explain import DISTANCE, UNIT
from tests.spells.exposure_of import exposed, lives, one, reasons, seen
from tests.spells.history_of import car, job

SIX = car(built_on="1990-01-01", odometer_digits=6)
FIRST, LAST = seen("2010-01-01", odometer=100_000), seen("2019-01-01", odometer=118_000)


def km(found, *columns, **where):
    return lives(found, *(columns or ("unit_no", "entry", "exit", "event")), scale="distance", **where)


def test_rule_26_the_scales_are_days_and_km_of_the_unit():
    lines = [job("2012-01-01", odometer=104_000), job("2015-01-01", odometer=110_500)]
    found = exposed(vehicles=[SIX], repairs=[FIRST, *lines, LAST])
    assert lives(found, "entry", "exit") == [(0, 730), (0, 1096), (0, 1461)]
    assert km(found) == [(1, 0, 4_000, 1), (2, 0, 6_500, 1), (3, 0, 7_500, 0)]


def test_rule_26_vehicle_age_is_that_of_the_car_at_entry():
    found = exposed(vehicles=[SIX], repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST])
    assert lives(found, "vehicle_age") == [7305, 8035]
    assert km(found, "vehicle_age") == [100_000, 104_000]


def test_rule_27_a_unit_of_unknown_age_counts_from_joining():
    found = exposed(vehicles=[SIX], repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST])
    for scale in ("age", "distance"):
        assert lives(found, "age_known", "entry", scale=scale)[0] == (False, 0)


def test_rule_28_without_built_on_the_age_of_the_car_is_empty_and_the_rest_stands():
    found = exposed(vehicles=[car()], repairs=[FIRST, job("2012-01-01"), LAST])
    assert lives(found, "age_known", "entry", "exit", "vehicle_age") == [(False, 0, 730, None), (True, 0, 2557, None)]
    assert found.watch.select("from_day", "to_day").unique().rows() == [(None, None)]
    assert found.fault["car_days"].to_list() == [None]


def test_rule_29_km_between_readings_lie_on_a_straight_line():
    found = exposed(vehicles=[SIX], repairs=[FIRST, job("2012-01-01"), LAST])
    share = 730 / 3287
    assert km(found)[0] == (1, 0, round(18_000 * share), 1)


def test_rule_29_past_the_last_reading_the_cars_rate_carries_on_for_two_years():
    lines = [seen("2010-01-01", odometer=100_000), seen("2012-01-01", odometer=104_000), seen("2015-06-01")]
    near = exposed(repairs=[*lines, job("2013-12-31")])
    far = exposed(repairs=[*lines, job("2014-01-02")])
    assert km(near)[0] == (1, 0, 8_000, 1)
    assert km(far) == []
    assert reasons(far, DISTANCE[1]) == {"no reading": 1}


def test_rule_29_before_the_first_reading_there_is_no_distance():
    found = exposed(repairs=[seen("2010-01-01"), job("2012-01-01", odometer=50_000), LAST])
    assert km(found, "unit_no") == [2]
    assert reasons(found, DISTANCE[1]) == {"no reading": 1}


def test_rule_29_on_the_day_of_building_a_car_has_no_km():
    lines = [seen("2010-01-01", odometer=5_000), job("2012-01-01", odometer=30_000), LAST]
    found = exposed(vehicles=[car(built_on="2009-06-01")], repairs=lines)
    assert km(found)[0] == (1, 5_000, 30_000, 1)


def test_rule_29_a_unit_told_to_be_fitted_on_the_day_of_building_carries_the_cars_km():
    told = {"vehicle_id": "A", "component": "hose", "fitted_from": "1990-01-01"}
    found = exposed(vehicles=[SIX], fitted=[told], repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST])
    assert km(found)[0] == (1, 100_000, 104_000, 1)


def test_rule_29_nobody_knows_the_km_of_a_unit_told_to_be_fitted_before_the_first_reading():
    told = {"vehicle_id": "A", "component": "hose", "fitted_from": "2005-01-01"}
    found = exposed(vehicles=[SIX], fitted=[told], repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST])
    assert km(found, "unit_no") == [2]


def test_rule_26_a_unit_fitted_on_the_first_visit_starts_at_nought_whatever_the_clock_says():
    readings = [
        {"vehicle_id": "A", "read_on": date(2010, month, 1), "odometer": 98_000 + 2_000 * month} for month in (1, 2)
    ]
    fitted = job("2010-01-01", reason="planned", odometer=99_000)
    found = exposed(vehicles=[SIX], readings=readings, repairs=[fitted, job("2012-01-01", odometer=120_000), LAST])
    assert km(found)[0][:2] == (2, 0)


def test_rule_29_the_share_without_a_distance_is_told_for_failed_and_censored_apart():
    lines = [seen("2010-01-01"), job("2012-01-01"), job("2014-01-01", odometer=50_000), LAST]
    found = exposed(repairs=lines)
    rows = found.left_out.filter(pl.col("kind").str.contains("no reading"))
    assert dict(rows.select("kind", "count").rows()) == {
        f"{DISTANCE[0]}: no reading": 1,
        f"{DISTANCE[1]}: no reading": 2,
    }
    assert rows["out_of"].to_list() == [2, 2]


@pytest.mark.parametrize(("without", "points", "refused"), [(0, 0.0, False), (1, 10.0, False), (2, 20.0, True)])
def test_rule_29_the_distance_law_is_refused_where_failed_units_lack_their_km_more_often(without, points, refused):
    cars = [f"C{i}" for i in range(10)]
    lines = []
    for number, name in enumerate(cars):
        first = None if number < without else 100_000
        lines.append(seen("2010-01-01", name, odometer=first))
        lines.append(job("2012-01-01", vehicle_id=name, odometer=104_000))
        lines.append(seen("2019-01-01", name, odometer=118_000))
    found = exposed(vehicles=[car(name) for name in cars], repairs=lines)
    row = one(found.distance_share, "failed", "failed_without", "censored", "points", "refused", component="hose")
    assert row == (10, without, 10, pytest.approx(points), refused)


@pytest.mark.parametrize(("digits", "total"), [(6, 100_000), (7, 100_000), (5, None), (None, None)])
def test_rule_30_the_total_at_joining_is_trusted_from_six_digits_on(digits, total):
    cars = [car(built_on="1990-01-01", odometer_digits=digits)]
    found = exposed(vehicles=cars, repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST])
    assert km(found, "vehicle_age")[0] == total
    assert one(found.watch, "from_km", component="hose") == total
    assert km(found)[0] == (1, 0, 4_000, 1)


def test_rule_30_the_total_of_a_car_in_care_since_new_is_trusted():
    found = exposed(
        vehicles=[car(built_on="2009-06-01", odometer_digits=5)],
        repairs=[seen("2010-01-01", odometer=5_000), job("2012-01-01", odometer=30_000), LAST],
    )
    assert km(found, "vehicle_age")[0] == 5_000


def test_rule_31_a_unit_that_failed_on_the_day_of_its_fitting_lasted_one_day():
    again = [job("2012-01-01", record_id="X1"), job("2012-01-01", record_id="X2")]
    found = exposed(repairs=[FIRST, *again, LAST])
    assert lives(found, "unit_no", "entry", "exit", "event") == [(1, 0, 730, 1), (2, 0, 1, 1), (3, 0, 2557, 0)]


def test_rule_31_a_unit_that_failed_within_the_same_km_lasted_one():
    lines = [job("2012-01-01", odometer=104_000), job("2012-02-01", odometer=104_000)]
    found = exposed(repairs=[FIRST, *lines, LAST])
    assert km(found, unit_no=2) == [(2, 0, 1, 1)]


def test_rule_31_a_censored_spell_of_no_length_is_left_out_and_counted():
    again = [job("2012-01-01", record_id="X1"), job("2012-01-01", record_id="X2", reason="planned")]
    found = exposed(repairs=[FIRST, *again, LAST])
    assert lives(found, "unit_no") == [1, 3]
    assert reasons(found, UNIT) == {"no time watched": 1}


def test_rule_31_a_censored_unit_that_was_not_driven_has_no_distance():
    lines = [job("2012-01-01", odometer=104_000), job("2012-02-01", odometer=104_000, reason="planned")]
    found = exposed(repairs=[FIRST, *lines, LAST])
    assert km(found, "unit_no") == [1, 3]
    assert reasons(found, DISTANCE[0]) == {"no distance covered": 1}


def test_an_exchanged_instrument_on_record_lets_the_distance_go_on():
    lines = [
        job("2012-01-01", odometer=104_000),
        job("2013-01-01", component="speedometer head", reason="changed in passing", odometer=106_000),
        seen("2014-01-01", odometer=2_000),
        job("2016-01-01", odometer=6_000),
    ]
    found = exposed(vehicles=[SIX], repairs=[FIRST, *lines, seen("2017-01-01", odometer=8_000)])
    assert km(found, "exit", unit_no=2) == [pytest.approx(8_000, rel=0.02)]
    assert found.reading["verdict"].str.contains("instrument exchanged").sum() == 3


def test_rule_25_a_stay_in_the_workshop_leaves_the_distance_whole():
    stay = job("2012-04-01", opened_on="2012-01-01", component="pump", odometer=104_000)
    found = exposed(vehicles=[SIX], repairs=[FIRST, stay, job("2015-01-01", odometer=110_000), LAST])
    assert km(found)[0] == (1, 0, 10_000, 1)


def test_a_silent_fault_has_a_lower_end_in_km_too():
    check = job("2011-01-01", reason="planned", action="inspected", odometer=102_000)
    fault = job("2012-01-01", reason="found at inspection", odometer=104_000)
    found = exposed(repairs=[FIRST, check, fault, LAST])
    assert km(found, "entry", "exit_lower", "exit")[0] == (0, 2_000, 4_000)


def test_the_figure_stated_at_the_repair_tells_the_units_km_and_the_clock_keeps_to_its_readings():
    readings = [
        {"vehicle_id": "A", "read_on": date(2010 + i // 12, 1 + i % 12, 1), "odometer": 100_000 + 2_000 * i}
        for i in range(48)
    ]
    told = job("2012-01-01", odometer=143_000)
    found = exposed(vehicles=[SIX], readings=readings, repairs=[told, seen("2013-12-01")])
    assert km(found) == [(1, 0, 43_000, 1), (2, 0, 194_000 - 143_000, 0)]
    against = found.reading.filter(pl.col("seen_at") == "R1/1")
    assert against["verdict"].to_list() == ["used: stated at the repair, not on the car's clock"]
    assert one(found.fault, "car_km") == 148_000
    kinds = found.left_out.filter(pl.col("kind").str.starts_with("odometer stated"))
    assert kinds.select("count", "out_of").rows() == [(1, 1)]
