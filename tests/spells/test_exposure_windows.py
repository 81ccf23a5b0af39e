"""Windows of watching: rules 21 and 23 to 25 as far as spells go."""

from datetime import date

import polars as pl

from analytics.spells.explain import REPAIR, UNIT
from tests.spells.exposure_of import exposed, lives, one, reasons, seen
from tests.spells.history_of import car, job, places

FIRST, LAST = seen("2010-01-01"), seen("2019-01-01")


def test_rule_21_a_fault_met_at_joining_gives_no_event_and_renews():
    found = exposed(repairs=[FIRST, job("2010-02-20"), job("2014-02-20"), LAST])
    assert lives(found) == [(2, 0, 1461, 1, "failure"), (3, 0, 1776, 0, "window end")]
    assert reasons(found, UNIT) == {"joining fault": 1}
    assert found.fault.select("used", "why_unused").rows()[0] == (False, "joining fault")


def test_rule_21_a_fault_on_an_order_opened_later_is_an_event():
    found = exposed(repairs=[FIRST, job("2010-03-15"), LAST])
    assert lives(found)[0] == (1, 0, 73, 1, "failure")


def test_rule_21_a_joining_fault_that_is_only_repaired_takes_the_unit_out_until_renewed():
    found = exposed(repairs=[FIRST, job("2010-02-01", action="repaired"), job("2012-01-01"), job("2014-01-01"), LAST])
    assert lives(found, "unit_no", "entry", "exit", "event") == [(2, 0, 731, 1), (3, 0, 1826, 0)]
    assert reasons(found, REPAIR)["joining fault"] == 1


def test_rule_21_a_unit_fitted_by_us_counts_from_the_first_day():
    found = exposed(repairs=[job("2010-01-01", reason="planned"), job("2010-02-01"), LAST])
    assert lives(found)[0] == (2, 0, 31, 1, "failure")
    assert found.fault["used"].to_list() == [True]


def test_rule_21_watching_starts_when_the_first_visit_is_handed_over():
    first = seen("2010-01-20", opened_on="2010-01-01")
    found = exposed(repairs=[first, job("2012-01-01"), LAST])
    assert lives(found)[0] == (1, 0, 711, 1, "failure")
    assert found.watch["start_on"].unique().to_list() == [date(2010, 1, 20)]


def test_rule_23_a_failure_after_the_last_neutral_visit_is_not_used():
    found = exposed(repairs=[FIRST, seen("2014-01-01"), job("2016-01-01")])
    assert lives(found) == [(1, 0, 1461, 0, "window end")]
    assert reasons(found, REPAIR)["after the last neutral visit"] == 1
    assert reasons(found, UNIT)["fitted after the last neutral visit"] == 1
    assert found.fault.select("used", "why_unused").rows() == [(False, "after the last neutral visit")]


def test_rule_23_the_window_is_that_of_the_component_and_not_of_the_position():
    slots = places(positions=("left", "right"))
    lines = [job("2012-01-01", position="left"), job("2014-01-01", position="right")]
    found = exposed(components=[*slots, *places("horn", (None,))], repairs=[FIRST, *lines, seen("2013-01-01")])
    ends = found.watch.filter(pl.col("component") == "hose")["end_on"].to_list()
    assert ends == [date(2013, 1, 1)] * 2


def test_rule_23_a_fault_found_at_the_last_visit_is_used():
    found = exposed(repairs=[FIRST, job("2014-01-01", reason="found at inspection")])
    assert lives(found) == [(1, 0, 1461, 1, "found at inspection")]


def test_rule_23_nothing_is_watched_after_the_car_has_left():
    found = exposed(vehicles=[car(left_on="2013-01-01")], repairs=[FIRST, seen("2012-01-01"), job("2014-01-01"), LAST])
    assert lives(found) == [(1, 0, 730, 0, "window end")]


def test_rule_23_events_seen_and_used_are_told_apart():
    lines = [job("2010-02-01"), job("2012-01-01"), job("2016-01-01")]
    found = exposed(repairs=[FIRST, *lines, seen("2014-01-01")])
    assert (found.fault.height, found.fault["used"].sum()) == (3, 1)


def test_rule_24_the_unit_in_place_is_read_from_all_orders():
    found = exposed(repairs=[FIRST, seen("2014-01-01"), job("2016-01-01", part_no="H1")], as_of=date(2016, 12, 31))
    now = one(found.unit_now, "unit_no", "fitted_on", "age", "variant", "state", component="hose")
    assert now == (2, date(2016, 1, 1), 365, "H1", "running")


def test_rule_24_a_unit_of_unknown_age_tells_the_days_since_the_car_joined():
    found = exposed(repairs=[FIRST, seen("2014-01-01"), job("2014-06-01", component="pump")])
    now = one(found.unit_now, "unit_no", "fitted_on", "age", "age_known", component="pump", unit_no=2)
    assert now == (2, date(2014, 6, 1), 2405, True)
    assert one(found.unit_now, "fitted_on", "age", "age_known", component="horn") == (None, 4017, False)


def test_rule_25_time_in_the_workshop_is_not_exposure_of_the_failed_unit():
    found = exposed(repairs=[FIRST, job("2012-03-01", opened_on="2012-01-01"), LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 0, 2497, 0, "window end")]


def test_rule_25_other_components_ignore_a_stay_up_to_ninety_days():
    stay = job("2012-03-31", opened_on="2012-01-01", component="pump")
    found = exposed(repairs=[FIRST, stay, job("2015-01-01"), LAST])
    assert lives(found)[0] == (1, 0, 1826, 1, "failure")


def test_rule_25_a_longer_stay_is_taken_out_of_every_component():
    stay = job("2012-04-01", opened_on="2012-01-01", component="pump")
    found = exposed(repairs=[FIRST, stay, job("2013-01-01", reason="planned"), job("2015-01-01"), LAST])
    assert lives(found) == [
        (1, 0, 730, 0, "window end"),
        (1, 821, 1096, 0, "planned"),
        (2, 0, 730, 1, "failure"),
        (3, 0, 1461, 0, "window end"),
    ]
    assert lives(found, "end_record")[0] is None


def test_rule_25_a_unit_of_unknown_age_comes_back_as_old_as_it_left():
    stay = job("2012-04-01", opened_on="2012-01-01", component="pump")
    found = exposed(vehicles=[car(built_on="1990-01-01")], repairs=[FIRST, stay, LAST, job("2015-01-01")])
    rows = lives(found, "age_known", "entry", "exit", "vehicle_age", unit_no=1)
    assert rows == [(False, 0, 730, 7305), (False, 821, 1826, 8126)]


def test_rule_25_no_stay_is_taken_out_between_the_last_clean_check_and_a_silent_fault():
    stay = job("2012-04-01", opened_on="2012-01-01", component="pump")
    found = exposed(repairs=[FIRST, stay, job("2013-01-01", reason="found at inspection"), LAST])
    assert lives(found, "entry", "exit_lower", "exit", "event", unit_no=1) == [(0, 0, 1096, 1)]


def test_rule_25_a_stay_is_not_watched_and_leaves_its_days_out():
    stay = job("2012-04-01", opened_on="2012-01-01", component="pump")
    found = exposed(repairs=[FIRST, stay, LAST])
    assert one(found.watch, "vehicle_days", component="horn") == 3287 - 91


def test_rule_25_a_failure_during_another_long_stay_ends_where_the_stay_began():
    stay = job("2012-06-01", opened_on="2012-01-01", component="pump", record_id="P")
    hose = job("2012-02-10", opened_on="2012-02-01", record_id="H")
    found = exposed(repairs=[FIRST, stay, hose, LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 112, 2517, 0, "window end")]
