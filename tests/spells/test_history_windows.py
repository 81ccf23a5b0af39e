"""When watching a car or a component begins and ends (rules 3, 20, 21, 22, 23, 25)."""

from datetime import date

import pytest

from tests.spells.history_of import car, history, job, places, rows

JOINED = job("1990-01-01", "wheel", record_id="J")
"""A first visit long before, so that the visits asked about are not the joining ones."""
COMPONENTS = [*places(positions=("one",)), *places("belt", ("one",)), *places("wheel", ("one",))]


def last_neutral(*lines, component="hose", **tables):
    """Return the end of a component's window after the joining visit and these lines."""
    connection = history(repairs=[JOINED, *lines], **{"components": COMPONENTS, **tables})
    return rows(connection, f"select end_on from watch_window where component = '{component}'")[0]


def neutral(*lines, component="hose", **tables):
    """Whether the visit of 2001-03-09 is neutral for the component."""
    end = last_neutral(*lines, component=component, **tables)
    assert end in {"2001-03-09", "1990-01-01"}
    return end == "2001-03-09"


def at_visit(component="hose", **columns):
    return job("2001-03-09", component, **columns)


@pytest.mark.parametrize(
    ("built_on", "inferred", "since_new"),
    [
        ("1989-01-01", None, True),
        ("1988-12-31", None, False),
        ("1990-07-01", "built_on", True),  # a bare year, which holds the first visit
        ("1990-07-01", None, False),
        ("1995-01-01", None, False),
        (None, None, False),
    ],
)
def test_rule_20_a_car_first_seen_within_a_year_of_its_building_is_in_care_since_new(built_on, inferred, since_new):
    connection = history(vehicles=[car(built_on=built_on, inferred=inferred)], repairs=[JOINED])
    assert rows(connection, "select since_new from car") == [since_new]


def test_rule_21_a_car_is_watched_from_the_hand_over_of_its_first_visit():
    lines = [job("2001-03-20", opened_on="2001-03-05"), job("2001-03-06", opened_on="2001-03-01")]
    connection = history(repairs=lines)
    assert rows(connection, "select first_visit_day, joined_on from car") == [("2001-03-01", "2001-03-20")]
    assert rows(connection, "select distinct joined_on from watch_window") == ["2001-03-20"]


def test_rule_21_what_is_found_within_60_days_of_the_first_visit_existed_before():
    lines = [
        job("2001-03-20", opened_on="2001-03-01", record_id="first"),
        job("2001-06-30", "belt", opened_on="2001-05-19", record_id="60 days"),
        job("2001-06-30", "wheel", opened_on="2001-05-20", record_id="61 days"),
    ]
    connection = history(repairs=lines)
    assert rows(connection, "select joining, ours from repair order by order_id") == [
        (True, False),
        (False, False),
        (True, False),
    ]
    assert rows(connection, "select count from left_out where kind = 'fault met when the car joined'") == [2]


def test_rule_21_a_unit_that_we_had_fitted_ourselves_is_told_apart():
    lines = [job("2001-03-20", position="front"), job("2001-04-20", position="front")]
    lines += [job("2001-04-20", position="rear")]
    connection = history(repairs=lines)
    found = rows(connection, "select position, joining, ours from repair order by fault_on, position")
    assert found == [("front", True, False), ("front", True, True), ("rear", True, False)]


def test_rule_22_a_visit_with_a_failure_of_the_component_alone_is_not_neutral_for_it():
    assert not neutral(at_visit())
    assert neutral(at_visit(), component="belt")


@pytest.mark.parametrize(
    "reason",
    ["found at inspection", "consequence", "changed in passing", "planned", "accident", "no fault found"],
)
def test_rule_22_a_visit_at_which_the_component_did_not_fail_is_neutral(reason):
    assert neutral(at_visit(reason=reason))


def test_rule_22_a_reason_not_recorded_is_taken_as_it_reads():
    assert not neutral(at_visit(reason=None))
    assert neutral(at_visit(reason=None, record_id="R"), at_visit("belt", reason="planned", record_id="R", line_no=2))


@pytest.mark.parametrize("other", [at_visit("belt"), at_visit("belt", reason="planned"), at_visit(reason="planned")])
def test_rule_22_another_failure_or_a_planned_line_makes_it_neutral(other):
    assert neutral(at_visit(), other)


@pytest.mark.parametrize("reason", ["found at inspection", "consequence", "changed in passing"])
def test_rule_22_another_component_that_did_not_fail_does_not_make_it_neutral(reason):
    assert not neutral(at_visit(), at_visit("belt", reason=reason))


def test_rule_22_a_planned_quarantined_line_of_the_visit_makes_it_neutral():
    seen = {"vehicle_id": "A", "day": date(2001, 3, 9), "line_id": "Q/1"}
    assert neutral(at_visit(), seen=[{**seen, "planned": True}])
    assert not neutral(at_visit(), seen=[{**seen, "planned": False}])


def test_rule_22_only_failures_the_car_came_for_count_where_lines_say_so():
    assert not neutral(at_visit(came_for=True), at_visit("belt"))
    assert neutral(at_visit(came_for=True), at_visit("belt"), component="belt")
    assert neutral(at_visit(came_for=True), at_visit("belt", came_for=True))
    assert neutral(at_visit(), at_visit("belt", reason="accident", came_for=True))


def test_rule_22_a_failure_the_car_did_not_come_for_does_not_count():
    assert neutral(at_visit(came_for=False))
    assert not neutral(at_visit(), at_visit("belt", came_for=False))


def test_rule_22_a_follow_up_within_45_days_of_the_hand_over_is_not_neutral_unless_planned():
    repaired = job("2001-01-23", opened_on="2001-01-02")
    assert not neutral(repaired, at_visit("belt"))
    assert neutral(repaired, at_visit("belt"), component="wheel")
    assert neutral(repaired, at_visit("belt", reason="planned"))
    repaired["closed_on"] = "2001-01-22"
    assert neutral(repaired, at_visit("belt"))  # 46 days


def test_rule_22_a_follow_up_of_an_order_counts_from_the_hand_over_of_the_order():
    lines = [
        job("2001-01-10", record_id="R", line_no=1),
        job("2001-02-10", "belt", opened_on="2001-01-10", record_id="R", line_no=2, reason="accident"),
    ]
    assert not neutral(*lines, at_visit("wheel"))


@pytest.mark.parametrize(
    ("action", "follows"), [("repaired", True), ("adjusted", True), ("inspected", False), ("none", False)]
)
def test_rule_22_a_follow_up_follows_work_on_the_component_and_not_a_look_at_it(action, follows):
    looked = job("2001-02-01", reason="found at inspection", action=action)
    end = last_neutral(looked, at_visit("belt"))
    assert end == ("2001-02-01" if follows else "2001-03-09")


def test_rule_22_a_reading_alone_is_a_neutral_visit():
    readings = [{"vehicle_id": "A", "read_on": "2001-03-09", "odometer": 1.0}]
    assert neutral(readings=readings)


def test_rule_03_a_line_without_component_is_neutral_only_if_planned():
    assert not neutral(at_visit(None))
    assert not neutral(at_visit(None, reason="changed in passing"))
    assert neutral(at_visit(None, reason="planned"))


def test_rule_03_a_line_without_component_beside_a_fault_that_explains_the_visit_does_no_harm():
    assert neutral(at_visit(None), at_visit("belt"))
    assert not neutral(at_visit(None), at_visit("belt", reason="changed in passing"))


def test_rule_03_a_line_without_component_does_not_excuse_a_failure():
    assert not neutral(at_visit(None), at_visit())


@pytest.mark.parametrize("planned", [True, False])
def test_rule_03_a_quarantined_line_is_neutral_only_if_planned(planned):
    seen = [{"vehicle_id": "A", "day": date(2001, 3, 9), "planned": planned, "line_id": "Q/1"}]
    assert neutral(seen=seen) is planned
    connection = history(repairs=[JOINED], seen=seen)
    assert rows(connection, "select last_any from watch_window") == ["2001-03-09"]
    counted = rows(connection, "select count from left_out where kind = 'visit of unknown cause'")
    assert counted == ([] if planned else [1])


def test_rule_03_a_reading_does_not_tell_why_the_car_was_there_beside_a_quarantined_line():
    seen = [{"vehicle_id": "A", "day": date(2001, 3, 9), "planned": False, "line_id": "Q/1"}]
    readings = [{"vehicle_id": "A", "read_on": "2001-03-09", "odometer": 1.0}]
    assert not neutral(seen=seen, readings=readings)


def test_rule_23_the_window_ends_on_the_last_neutral_visit_of_the_component():
    lines = [at_visit("belt"), job("2005-01-01"), job("2006-01-01", "belt")]
    connection = history(repairs=[JOINED, *lines], components=COMPONENTS)
    found = rows(connection, "select component, end_on, last_any from watch_window order by component")
    assert found == [
        ("belt", "2005-01-01", "2006-01-01"),
        ("hose", "2006-01-01", "2006-01-01"),
        ("wheel", "2006-01-01", "2006-01-01"),
    ]


def test_rule_23_the_window_ends_by_the_as_of_day_and_while_the_car_is_in_care():
    lines = [JOINED, at_visit("belt"), job("2005-01-01", "belt")]
    query = "select end_on, last_any from watch_window where component = 'hose'"
    until = history(repairs=lines, components=COMPONENTS, as_of=date(2004, 12, 31))
    assert rows(until, query) == [("2001-03-09", "2001-03-09")]
    left = history(vehicles=[car(left_on="2004-12-31")], repairs=lines, components=COMPONENTS)
    assert rows(left, query) == [("2001-03-09", "2001-03-09")]
    assert rows(left, "select count from left_out where kind = 'visit after the car left'") == [1]


def test_rule_23_a_visit_on_the_day_of_leaving_counts():
    assert neutral(at_visit("belt"), vehicles=[car(left_on="2001-03-09")])
    assert not neutral(at_visit("belt"), vehicles=[car(left_on="2001-03-08")])


def test_rule_23_without_a_neutral_visit_there_is_no_end():
    connection = history(repairs=[job("2001-03-09")])
    assert rows(connection, "select component, end_on, last_any from watch_window") == [("hose", None, "2001-03-09")]
    assert rows(connection, "select count from left_out where kind like '%without a neutral visit'") == [1]


def test_rule_25_an_order_of_more_than_90_days_is_a_lay_up_and_overlapping_ones_are_one():
    lines = [
        job("2001-04-01", opened_on="2001-01-01", record_id="90 days"),
        job("2003-04-02", opened_on="2003-01-01", record_id="91 days"),
        job("2003-09-01", opened_on="2003-02-01", record_id="inside"),
        job("2005-09-01", opened_on="2005-01-01", record_id="later"),
    ]
    connection = history(repairs=lines)
    assert rows(connection, "select from_on, to_on, order_id from lay_up") == [
        ("2003-01-01", "2003-09-01", "91 days | A"),
        ("2005-01-01", "2005-09-01", "later | A"),
    ]
    assert rows(connection, "select count, out_of from left_out where kind like 'stay taken out%'") == [(2, 4)]
