"""When a component was last seen to be good (rule 11)."""

import pytest

from analytics.parameters import Parameters
from analytics.spells.exposure import build_exposure
from tests.fleet import ledger_of
from tests.spells.history_of import AS_OF, car, history, job, places, rows

CHECKS = "select component, position, checked_on, line_id from clean_check order by all"
SEEN = [*places(positions=("front", "rear"), seen_at_service=True), *places("belt", ("one",))]


def checks(*lines, **tables):
    return rows(history(repairs=list(lines), **{"components": SEEN, **tables}), CHECKS)


def look(**columns):
    """Return a line of a planned look at the belt, opened before it was closed."""
    line = {"reason": "planned", "action": "inspected", "opened_on": "2001-03-05", "record_id": "R"}
    return job("2001-03-09", **{"component": "belt", **line, **columns})


NOT_SEEN = [*places(positions=("front", "rear")), *places("belt", ("one",))]


@pytest.mark.parametrize("finding", [None, "", "good", " Good "])
def test_rule_11_a_planned_inspection_that_found_nothing_is_a_clean_check(finding):
    assert checks(look(finding=finding), components=NOT_SEEN) == [("belt", None, "2001-03-05", "R/1")]


@pytest.mark.parametrize(
    "columns", [{"finding": "worn"}, {"reason": "failure"}, {"reason": None}, {"action": "none"}, {"component": None}]
)
def test_rule_11_anything_else_is_none(columns):
    assert checks(look(**columns), components=NOT_SEEN) == []


def test_rule_11_an_inspection_of_one_position_says_nothing_of_the_others():
    assert checks(look(component="hose", position="rear"), components=NOT_SEEN) == [
        ("hose", "rear", "2001-03-05", "R/1")
    ]
    assert checks(look(component="hose"), components=NOT_SEEN) == [("hose", None, "2001-03-05", "R/1")]


def test_rule_11_a_look_at_one_position_is_none_at_a_component_shown_for_the_whole_car():
    lines = [look(component="hose", position="rear"), look(component="hose", line_no=2), job("2000-01-01")]
    connection = history(repairs=lines, components=NOT_SEEN, parameters=Parameters(blank_position_share=0.0))
    assert rows(connection, CHECKS) == [("hose", None, "2001-03-05", "R/2")]


def test_rule_11_any_order_with_a_planned_line_checks_what_is_seen_at_service():
    service = look(component=None, action="none")
    assert checks(service) == [("hose", None, "2001-03-05", "R/1")]
    assert checks(look(component=None, reason="failure")) == []


def test_rule_11_a_car_without_the_component_is_not_checked_for_it():
    assert checks(look(component=None), vehicles=[car("A", "S2")], components=places(series="S1")) == []


@pytest.mark.parametrize("reason", ["failure", "found at inspection", "consequence"])
def test_rule_11_a_fault_of_the_same_visit_is_no_clean_check_of_its_position(reason):
    fault = job("2001-03-09", position="rear", reason=reason, action="inspected", record_id="S")
    assert checks(look(component=None), fault) == [("hose", "front", "2001-03-05", "R/1")]


def test_rule_11_two_looks_at_one_visit_are_one_check():
    assert checks(look(), look(line_no=2), components=NOT_SEEN) == [("belt", None, "2001-03-05", "R/1")]


def lines_found_good(*lines, components=NOT_SEEN):
    tables = {"vehicles": [car()], "repairs": list(lines), "components": components}
    record = build_exposure(ledger_of(**tables), AS_OF, Parameters()).record
    return record.filter("clean_check")["record"].to_list()


@pytest.mark.parametrize(
    ("columns", "good"),
    [
        ({"finding": "good"}, True),
        ({"finding": " Good "}, True),
        ({"finding": None}, True),
        ({"finding": "cracked"}, False),
        ({"finding": "good for now, cracked"}, False),
        ({"finding": "good", "reason": None}, True),
        ({"finding": "good", "reason": "no fault found"}, True),
        ({"finding": None, "reason": None}, False),
        ({"finding": None, "reason": "no fault found"}, False),
        ({"finding": "good", "reason": "failure"}, False),
        ({"finding": "good", "reason": "found at inspection"}, False),
        ({"finding": "good", "action": "none"}, False),
        ({"finding": "good", "action": "cleaned"}, False),
        ({"finding": "good", "component": None}, False),
    ],
)
def test_rule_11_a_line_is_called_good_only_where_it_says_so(columns, good):
    assert lines_found_good(look(**columns)) == (["R/1"] if good else [])


def test_rule_11_a_line_is_not_called_good_beside_a_fault_of_the_same_on_the_visit():
    fault = job("2001-03-09", position="rear", reason="found at inspection", action="inspected", record_id="S")
    assert lines_found_good(look(component="hose"), fault) == []
    assert lines_found_good(look(component="hose", position="rear"), fault) == []
    assert lines_found_good(look(component="hose", position="front"), fault) == ["R/1"]
    assert lines_found_good(look(component="belt", position="one"), fault) == ["R/1"]
