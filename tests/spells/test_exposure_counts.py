"""Faults, windows and gaps: what rules 35 and 36 count from, and what each record is said to have done."""

from datetime import date

import polars as pl

from tests.spells.exposure_of import exposed, one, seen
from tests.spells.history_of import car, job, places

FIRST, LAST = seen("2010-01-01", odometer=100_000), seen("2019-01-01", odometer=118_000)
PAIR = [*places(positions=("left", "right")), *places("horn", (None,))]


def test_rule_35_one_failure_per_visit_and_position():
    lines = [
        job("2012-01-01", record_id="R", position="left"),
        job("2012-01-01", record_id="R", line_no=2, position="right"),
        job("2012-01-01", record_id="Q", position="right", action="repaired"),
    ]
    found = exposed(components=PAIR, repairs=[FIRST, *lines, LAST])
    assert found.fault.select("component", "position", "visit_day").rows() == [
        ("hose", "left", date(2012, 1, 1)),
        ("hose", "right", date(2012, 1, 1)),
    ]


def test_rule_35_failures_found_and_consequences_count_and_nothing_else():
    reasons = ["failure", "found at inspection", "consequence", "changed in passing", "planned", "accident"]
    lines = [job(f"201{2 + i}-01-01", reason=reason) for i, reason in enumerate(reasons)]
    found = exposed(repairs=[FIRST, *lines, LAST])
    assert found.fault["reads_as"].to_list() == reasons[:3]


def test_rule_35_the_exposure_runs_from_joining_to_the_end_for_every_position():
    found = exposed(components=PAIR, vehicles=[car(built_on="1990-01-01", odometer_digits=6)], repairs=[FIRST, LAST])
    hose = found.watch.filter(pl.col("component") == "hose")
    assert hose.select("position", "vehicle_days", "km", "from_day", "to_day", "from_km", "to_km").rows() == [
        ("left", 3287, 18_000, 7305, 10_592, 100_000, 118_000),
        ("right", 3287, 18_000, 7305, 10_592, 100_000, 118_000),
    ]


def test_rule_35_a_car_seen_once_gives_no_exposure():
    assert exposed(repairs=[FIRST]).watch.is_empty()


def test_rule_35_gaps_run_from_one_failure_to_the_next_at_the_position_or_to_the_end():
    lines = [
        job("2012-01-01", position="left"),
        job("2013-01-01", position="right"),
        job("2015-01-01", position="left"),
        job("2010-02-01", position="right"),
    ]
    found = exposed(components=PAIR, repairs=[FIRST, *lines, LAST])
    assert found.gap.select("position", "days", "event").rows() == [
        ("left", 1096, 1),
        ("left", 1461, 0),
        ("right", 2191, 0),
    ]


def test_rule_35_a_long_stay_is_no_part_of_a_gap():
    stay = job("2013-04-02", opened_on="2013-01-01", component="pump", reason="planned")
    found = exposed(repairs=[FIRST, job("2012-01-01"), stay, job("2014-01-01"), LAST])
    assert found.gap.filter(pl.col("component") == "hose")["days"].to_list() == [731 - 91, 1826]


def test_rule_16_a_component_shown_for_the_whole_car_keeps_its_failures_and_has_no_lives():
    lines = [job(f"201{2 + i}-01-01", position="left" if i == 0 else None) for i in range(4)]
    found = exposed(components=PAIR, repairs=[FIRST, *lines, LAST])
    hose = found.fault.filter(pl.col("component") == "hose")
    assert hose.select("position", "used").rows() == [("all", True)] * 4
    assert found.spell.filter(pl.col("component") == "hose").is_empty()
    assert found.unit_now.filter(pl.col("component") == "hose").is_empty()
    assert one(found.watch, "vehicle_days", component="hose", position="all") == 3287


def test_rule_15_a_failure_of_a_component_the_car_does_not_have_is_seen_and_not_used():
    found = exposed(
        components=[{"component": "hose", "series": "S2", "system": "cooling"}, *places("horn", (None,))],
        repairs=[FIRST, job("2012-01-01", location="bay"), LAST],
    )
    assert one(found.fault, "component", "location", "used", "why_unused") == (
        "hose",
        "bay",
        False,
        "component not on this car",
    )
    assert found.watch.filter(pl.col("component") == "hose").is_empty()


def test_rule_36_every_further_place_is_a_row_that_is_no_failure_of_anything():
    lines = [
        job("2012-01-01", record_id="R", location="front"),
        job("2012-01-01", record_id="R", line_no=2, location="rear"),
        job("2012-01-01", record_id="R", line_no=3, location="rear"),
        job("2014-01-01", component=None, action="none", location="roof"),
    ]
    found = exposed(repairs=[FIRST, *lines, LAST])
    assert found.fault.select("visit_day", "component", "location", "used").rows() == [
        (date(2012, 1, 1), "hose", "front", True),
        (date(2012, 1, 1), "none", "rear", False),
        (date(2014, 1, 1), "none", "roof", False),
    ]


def test_rule_36_a_blank_place_is_not_filled_in():
    assert one(exposed(repairs=[FIRST, job("2012-01-01"), LAST]).fault, "location") is None


def test_a_fault_tells_the_age_and_km_of_its_car():
    found = exposed(
        vehicles=[car(built_on="1990-01-01", odometer_digits=6)],
        repairs=[FIRST, job("2012-01-01", odometer=104_000), LAST],
    )
    assert one(found.fault, "car_days", "car_km") == (8035, 104_000)


def test_every_record_says_in_words_what_it_did():
    lines = [
        job("2012-01-01", record_id="fails"),
        job("2013-01-01", record_id="again", action="repaired"),
        job("2014-01-01", record_id="more", action="repaired"),
        job("2015-01-01", record_id="new", reason="changed in passing"),
        job("2016-01-01", record_id="wash", component=None, reason="planned", action="cleaned"),
        job("2019-06-01", record_id="late"),
    ]
    found = exposed(repairs=[FIRST, *lines, LAST])
    notes = dict(found.record.select("record_id", "spell_note").rows())
    assert notes["fails"] == "ended unit 1 (failure); fitted unit 2"
    assert notes["again"] == "ended unit 2 (failure)"
    assert notes["more"] == "no spell: further failure of a unit after repair"
    assert notes["new"] == "fitted unit 3"
    assert notes["wash"] == "no component: a visit only"
    assert notes["late"] == "fitted unit 4; no spell: after the last neutral visit"


def test_the_record_holds_no_free_text_and_km():
    line = job("2012-01-01", record_id="R", odometer=1_000, odometer_unit="mi", note="ask for Mr X", symptom="smells")
    found = exposed(repairs=[FIRST, line, LAST])
    assert not {"note", "symptom", "finding", "cause"} & set(found.record.columns)
    assert one(found.record, "odometer_km", record_id="R") == 1_609.344


def test_a_vehicle_tells_when_it_was_seen_and_how_far_it_is_driven():
    found = exposed(repairs=[FIRST, LAST])
    row = one(found.vehicle, "first_seen", "last_seen", "visits", "presence")
    assert row == (date(2010, 1, 1), date(2019, 1, 1), 2, None)
    assert round(one(found.vehicle, "own_km_per_year")) == 2000
