"""Units and their ends: rules 8 to 11 and 18 to 20 as far as spells go."""

import polars as pl
import pytest

from analytics.spells.explain import PAPERS, REPAIR, UNIT
from tests.spells.exposure_of import exposed, lives, one, reasons, seen
from tests.spells.history_of import car, job, places

BUILT = car(built_on="1990-01-01")
FIRST, LAST = seen("2010-01-01"), seen("2019-01-01")


@pytest.mark.parametrize(
    ("reason", "event", "cause"),
    [
        ("failure", 1, "failure"),
        ("found at inspection", 1, "found at inspection"),
        ("consequence", 0, "consequence"),
        ("changed in passing", 0, "in passing"),
        ("planned", 0, "planned"),
        ("accident", 0, "accident"),
        ("no fault found", 0, "no fault found"),
    ],
)
def test_rule_08_the_reason_says_how_a_renewal_ends_the_spell(reason, event, cause):
    found = exposed(repairs=[FIRST, job("2012-01-01", reason=reason), LAST])
    assert lives(found) == [(1, 0, 730, event, cause), (2, 0, 2557, 0, "window end")]


@pytest.mark.parametrize("reason", ["changed in passing", "planned", "accident", "no fault found"])
def test_rule_08_without_renewal_these_reasons_do_nothing(reason):
    found = exposed(repairs=[FIRST, job("2012-01-01", reason=reason, action="adjusted"), LAST])
    assert lives(found) == [(1, 0, 3287, 0, "window end")]
    assert reasons(found, REPAIR)["changed nothing"] >= 1


def test_rule_08_a_reason_that_is_not_recorded_is_a_failure_and_marked():
    found = exposed(repairs=[FIRST, job("2012-01-01", reason=None), LAST])
    assert lives(found, "event", "reason_recorded") == [(1, False), (0, True)]


def test_rule_08_a_reason_not_recorded_on_an_order_with_a_planned_line_is_in_passing():
    together = [job("2012-01-01", record_id="R", reason=None), seen("2012-01-01", record_id="R", line_no=2)]
    assert lives(exposed(repairs=[FIRST, *together, LAST]), "cause") == ["in passing", "window end"]


def test_rule_09_a_modification_ends_the_spell_and_opens_one_of_the_new_variant_at_the_same_age():
    change = job("2015-01-01", reason="planned", action="modified", part_no="H2")
    fitted = job("2012-01-01", part_no="H1")
    found = exposed(repairs=[FIRST, fitted, change, LAST])
    assert lives(found, "unit_no", "variant", "entry", "exit", "event", "cause", unit_no=2) == [
        (2, "H1", 0, 1096, 0, "modified"),
        (2, "H2", 1096, 2557, 0, "window end"),
    ]


def test_rule_09_a_modification_without_a_part_is_a_variant_of_its_own():
    change = job("2015-01-01", reason="planned", action="modified")
    found = exposed(repairs=[FIRST, job("2012-01-01", part_no="H1"), change, LAST])
    assert lives(found, "variant", unit_no=2) == ["H1", "H1, modified"]


def test_rule_09_a_failure_answered_by_a_modification_is_not_renewed():
    change = job("2012-01-01", action="modified")
    found = exposed(repairs=[FIRST, change, job("2014-01-01"), LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 0, 1826, 0, "window end")]


def test_rule_10_a_unit_answers_once():
    minimal = [job(f"{year}-01-01", action="repaired") for year in (2012, 2013)]
    found = exposed(repairs=[FIRST, *minimal, job("2014-01-01"), LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 0, 1826, 0, "window end")]
    assert reasons(found, REPAIR)["further failure of a unit after repair"] == 1


def test_rule_10_its_further_failures_are_still_counted_as_failures():
    minimal = [job(f"{year}-01-01", action="repaired") for year in (2012, 2013)]
    found = exposed(repairs=[FIRST, *minimal, LAST])
    assert found.fault.select("used", "in_spell").rows() == [(True, True), (True, False)]
    assert one(found.unit_now, "state", component="hose") == "after repair"


def test_rule_10_a_renewal_in_passing_brings_it_back_into_the_life_tables():
    passing = job("2014-01-01", reason="changed in passing")
    found = exposed(repairs=[FIRST, job("2012-01-01", action="repaired"), passing, LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 0, 1826, 0, "window end")]


def test_rule_11_a_silent_fault_lies_between_the_last_clean_check_and_the_day_it_was_found():
    check = {"reason": "planned", "action": "inspected"}
    found = exposed(
        repairs=[
            FIRST,
            job("2011-01-01", finding="good", **check),
            job("2012-01-01", **check),
            job("2012-06-01", finding="seeping", **check),
            job("2013-01-01", reason="found at inspection"),
            LAST,
        ]
    )
    assert lives(found, "entry", "exit_lower", "exit", "event")[0] == (0, 730, 1096, 1)


def test_rule_11_without_a_clean_check_the_lower_end_is_the_entry():
    found = exposed(
        vehicles=[car(built_on="2009-06-01")],
        repairs=[FIRST, job("2013-01-01", reason="found at inspection"), LAST],
    )
    assert lives(found, "entry", "exit_lower", "exit")[0] == (214, 214, 1310)


def test_rule_11_a_service_is_a_clean_check_of_what_is_seen_at_service():
    found = exposed(
        components=[
            {"component": "hose", "system": "cooling", "seen_at_service": True},
            {"component": "horn", "system": "electric"},
        ],
        repairs=[FIRST, seen("2012-01-01"), job("2013-01-01", reason="found at inspection"), LAST],
    )
    assert lives(found, "exit_lower")[0] == 730


def test_rule_11_a_clean_check_of_another_position_says_nothing():
    check = {"reason": "planned", "action": "inspected"}
    found = exposed(
        components=places(positions=("left", "right")),
        repairs=[
            FIRST,
            job("2012-01-01", position="left", **check),
            job("2013-01-01", position="right", reason="found at inspection"),
            LAST,
        ],
    )
    assert lives(found, "exit_lower", position="right")[0] == 0


@pytest.mark.parametrize("action", ["inspected", "none"])
def test_rule_11_a_fault_found_and_left_is_the_event_and_its_repair_no_second_fault(action):
    left = job("2013-01-01", reason="found at inspection", action=action)
    found = exposed(repairs=[FIRST, left, job("2014-01-01"), LAST])
    assert lives(found) == [(1, 0, 1096, 1, "found at inspection"), (2, 0, 1826, 0, "window end")]
    assert [day.isoformat() for day in found.fault["visit_day"]] == [left["closed_on"]]


def test_rule_11_found_again_and_mended_later_it_is_still_one_fault():
    left = [job(f"{year}-01-01", reason="found at inspection", action="none") for year in (2013, 2014)]
    mended = job("2015-01-01", action="repaired")
    again = job("2016-01-01", action="repaired")
    found = exposed(repairs=[FIRST, *left, mended, again, LAST])
    assert [day.year for day in found.fault["visit_day"]] == [2013, 2016]
    assert reasons(found, REPAIR)["same fault as before"] == 2


def test_rule_11_a_fault_still_there_on_the_as_of_day_is_told_by_the_unit():
    left = job("2013-01-01", reason="found at inspection", action="inspected")
    found = exposed(repairs=[FIRST, left, LAST])
    assert one(found.unit_now, "state", "unit_no", component="hose") == ("fault found and left", 1)


def test_rule_18_the_variant_is_the_design_of_the_fitted_part():
    parts = [{"part_no": n, "component": "hose", "variant": v} for n, v in (("H1", "old compound"), ("H2", None))]
    repairs = [FIRST, job("2012-01-01", part_no="H1"), job("2014-01-01", part_no="H2"), job("2016-01-01"), LAST]
    found = exposed(parts=parts, repairs=repairs)
    assert lives(found, "variant") == ["unknown", "old compound", "H2", "unknown"]


def test_rule_18_the_part_taken_out_tells_the_variant_too():
    repairs = [FIRST, job("2012-01-01", removed_part_no="H0"), job("2014-01-01", removed_part_no="H9"), LAST]
    assert lives(exposed(repairs=repairs), "variant") == ["H0", "H9", "unknown"]


def test_rule_18_the_factory_variant_by_serial_is_assumed_only_for_a_car_in_care_since_new():
    parts = [
        {"part_no": "H1", "component": "hose", "variant": "early", "serial_from": "B1", "serial_to": "B999"},
        {"part_no": "H2", "component": "hose", "variant": "late", "serial_from": "B1000"},
    ]
    cars = [
        car("A", built_on="2009-06-01", serial="B1000"),
        car("B", built_on="1990-01-01", serial="B1000"),
        car("C", built_on="2009-06-01", serial="B999"),
    ]
    repairs = [
        line for c in "ABC" for line in (job("2012-01-01", vehicle_id=c), seen("2010-01-01", c), seen("2019-01-01", c))
    ]
    found = exposed(vehicles=cars, parts=parts, repairs=repairs)
    assert lives(found, "vehicle_id", "variant", unit_no=1) == [("A", "late"), ("B", "unknown"), ("C", "early")]
    assert lives(found, "variant", unit_no=2) == ["unknown"] * 3
    assert one(found.left_out, "count", kind="variant told by the serial") == 2


def test_rule_19_a_used_part_is_in_no_life_and_in_the_installed_base():
    used = job("2012-01-01", part_origin="used", part_no="H1")
    found = exposed(repairs=[FIRST, used, LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure")]
    assert reasons(found, UNIT) == {"used part fitted, its age is not known": 1}
    now = one(found.unit_now, "unit_no", "age_known", "variant", "part_origin", component="hose")
    assert now == (2, False, "H1", "used")


@pytest.mark.parametrize("origin", ["new", "reproduction", "overhauled", "owner-supplied", "unknown", None])
def test_rule_19_everything_else_starts_at_nought(origin):
    found = exposed(repairs=[FIRST, job("2012-01-01", part_origin=origin), LAST])
    assert lives(found, "entry", "exit", "part_origin", unit_no=2) == [(0, 2557, origin or "unknown")]
    marked = found.left_out.filter(pl.col("kind").str.starts_with("part of origin"))["count"].sum()
    assert marked == (origin in ("owner-supplied", "unknown", None))


def test_rule_20_a_car_in_care_since_new_enters_at_its_age():
    found = exposed(vehicles=[car(built_on="1975-07-15")], repairs=[seen("1975-09-01"), job("1980-09-01"), LAST])
    assert lives(found, "age_known", "entry", "exit", "vehicle_age")[0] == (True, 48, 1875, 48)


def test_rule_20_an_owners_file_gives_the_age():
    told = {"vehicle_id": "A", "component": "hose", "fitted_from": "2008-01-01"}
    found = exposed(vehicles=[BUILT], fitted=[told], repairs=[FIRST, job("2012-01-01"), LAST])
    assert lives(found, "age_known", "entry", "exit", "vehicle_age")[0] == (True, 731, 1461, 7305)


def test_rule_20_of_a_told_interval_the_middle_is_taken():
    told = {"vehicle_id": "A", "component": "hose", "fitted_from": "2008-01-01", "fitted_to": "2008-12-31"}
    found = exposed(vehicles=[BUILT], fitted=[told], repairs=[FIRST, job("2012-01-01"), LAST])
    assert lives(found, "entry")[0] == 731 - 182
    assert one(found.left_out, "count", "out_of", kind="day of fitting told as an interval") == (1, 1)


def test_rule_20_a_fitting_told_after_joining_renews_in_passing_unless_the_order_is_held():
    told = [{"vehicle_id": "A", "component": "hose", "fitted_from": day} for day in ("2012-01-20", "2015-01-01")]
    found = exposed(fitted=told, repairs=[FIRST, job("2012-01-01"), LAST])
    assert lives(found) == [(1, 0, 730, 1, "failure"), (2, 0, 1096, 0, "in passing"), (3, 0, 1461, 0, "window end")]
    assert reasons(found, PAPERS) == {"the order is held": 1}


def test_rule_20_all_others_are_of_unknown_age():
    found = exposed(vehicles=[BUILT], repairs=[FIRST, job("2012-01-01"), LAST])
    assert lives(found, "age_known", unit_no=1) == [False]
