"""What a line says, and when several are one repair (rules 8, 9, 12, 13, 14)."""

from itertools import pairwise

import pytest

from analytics.records.feed import REASONS
from tests.spells.history_of import FOUR, car, history, job, places, rows

PART = {"part_no": "H1", "component": "hose"}


def one_order(*lines):
    """Return lines of one order of one day."""
    return [job("2001-03-09", **{"record_id": "R", "line_no": n, **line}) for n, line in enumerate(lines, start=1)]


def repairs(*lines, columns, **tables):
    return rows(history(repairs=one_order(*lines), **tables), f"select {columns} from repair order by position")


@pytest.mark.parametrize("reason", [reason for reason in REASONS if reason != "not recorded"])
def test_rule_08_a_recorded_reason_is_read_as_it_stands(reason):
    connection = history(repairs=[job("2001-03-09", reason=reason)])
    assert rows(connection, "select reason, reads_as from line") == [(reason, reason)]
    assert rows(connection, "select reads_as, reason_recorded from repair") == [(reason, True)]


@pytest.mark.parametrize("reason", [None, "not recorded"])
def test_rule_08_a_reason_not_recorded_reads_as_failure_and_is_marked(reason):
    connection = history(repairs=[job("2001-03-09", reason=reason, quantity=1.0)])
    assert rows(connection, "select reason, reads_as, inferred from line") == [("not recorded", "failure", "reason")]
    assert rows(connection, "select reads_as, reason_recorded from repair") == [("failure", False)]
    assert rows(connection, "select count from left_out where kind = 'reason not recorded, read as failure'") == [1]


def test_rule_08_a_reason_not_recorded_reads_as_in_passing_where_the_order_has_a_planned_line():
    lines = one_order({"reason": None}, {"component": None, "reason": "planned", "action": "inspected"})
    connection = history(repairs=lines)
    assert rows(connection, "select reads_as from line order by line_no") == ["changed in passing", "planned"]
    assert rows(connection, "select reads_as, reason_recorded from repair") == [("changed in passing", False)]


def test_rule_08_a_check_that_found_it_good_is_no_failure_where_the_reason_is_left_empty():
    line = job("2001-01-01", action="inspected", finding=" Good ", reason=None)
    assert rows(history(repairs=[line]), "select reason, reads_as from line") == [("not recorded", "no fault found")]
    unsaid = job("2001-01-01", action="inspected", reason=None)
    assert rows(history(repairs=[unsaid]), "select reads_as from line") == ["failure"]


def test_rule_08_a_planned_line_of_another_order_of_the_visit_does_not_tell_the_reason():
    lines = [job("2001-03-09", reason=None), job("2001-03-09", "belt", reason="planned")]
    assert rows(history(repairs=lines), "select reads_as from line where component = 'hose'") == ["failure"]


@pytest.mark.parametrize(
    ("part_no", "quantity", "action"),
    [("H1", None, "replaced"), ("H1", 2.0, "replaced"), ("H1", -1.0, "none"), (None, None, "none")],
)
def test_rule_08_an_empty_action_is_replaced_with_a_part_and_none_without(part_no, quantity, action):
    line = job("2001-03-09", action=None, part_no=part_no, quantity=quantity)
    connection = history(repairs=[line])
    assert rows(connection, "select action from line") == [action]
    assert "action" in rows(connection, "select inferred from line")[0].split(";")


def test_rule_08_an_empty_component_follows_from_the_part_number_and_is_marked():
    connection = history(repairs=[job("2001-03-09", None, part_no="H1", quantity=1.0)], parts=[PART])
    assert rows(connection, "select component, inferred from line") == [("hose", "component")]
    assert rows(connection, "select component from repair") == ["hose"]


def test_rule_08_a_part_number_of_two_components_tells_no_component():
    parts = [PART, {"part_no": "H1", "component": "belt"}]
    connection = history(repairs=[job("2001-03-09", None, part_no="H1")], parts=parts)
    assert rows(connection, "select component from line") == [None]


def test_rule_08_a_part_number_is_looked_up_in_the_series_of_the_car():
    parts = [{**PART, "series": "S1"}, {"part_no": "H1", "component": "belt", "series": "S2"}]
    lines = [job("2001-03-09", None, part_no="H1", vehicle_id=v) for v in "AB"]
    connection = history(vehicles=[car("A"), car("B", "S2")], repairs=lines, parts=parts)
    assert rows(connection, "select component from line order by vehicle_id") == ["hose", "belt"]


@pytest.mark.parametrize(
    ("action", "renewed_by", "renews"),
    [
        ("replaced", None, True),
        ("exchanged", None, True),
        ("overhauled", None, True),
        ("resealed", None, False),
        ("resealed", "cleaned; resealed", True),
        ("cleaned", "cleaned; resealed", True),
        ("repaired", "cleaned; resealed", False),
        ("modified", None, False),
        ("inspected", None, False),
        ("none", None, False),
    ],
)
def test_rule_09_renewing_actions_and_what_a_component_adds(action, renewed_by, renews):
    connection = history(
        repairs=[job("2001-03-09", action=action)], components=places(positions=("one",), renewed_by=renewed_by)
    )
    assert rows(connection, "select renews, modified from line") == [(renews, action == "modified")]
    assert rows(connection, "select renews, modified from repair") == [(renews, action == "modified")]


def test_rule_09_what_renews_one_component_does_not_renew_another():
    components = [*places(positions=("one",), renewed_by="resealed"), *places("pump", ("one",))]
    lines = one_order({"action": "resealed"}, {"action": "resealed", "component": "pump"})
    connection = history(repairs=lines, components=components)
    assert rows(connection, "select component, renews from repair order by 1") == [("hose", True), ("pump", False)]


def test_rule_12_several_lines_of_one_component_are_one_repair():
    lines = (
        {"reason": "planned", "action": "inspected", "location": "left"},
        {"reason": "found at inspection", "action": "replaced", "part_no": "H1", "quantity": 1.0},
        {"reason": "failure", "action": "cleaned"},
        {"reason": "changed in passing", "action": "replaced", "part_no": "H1", "quantity": 1.0},
    )
    found = repairs(*lines, columns="reads_as, action, renews, part_no, quantity, location, line_id, lines")
    assert found == [("failure", "replaced", True, "H1", 2.0, "left", "R/3", 4)]


def test_rule_12_the_reason_is_the_strongest():
    order = ("failure", "found at inspection", "consequence", "accident", "changed in passing", "planned")
    reasons = (*order, "no fault found")
    for stronger, weaker in pairwise(reasons):
        assert repairs({"reason": weaker}, {"reason": stronger}, columns="reads_as") == [stronger]


def test_rule_12_a_reason_not_recorded_gives_way_to_a_recorded_one():
    found = repairs({"reason": None}, {"reason": "found at inspection"}, columns="reads_as, reason_recorded")
    assert found == [("found at inspection", True)]


def test_rule_12_other_positions_and_components_are_other_repairs():
    lines = ({"position": "front left"}, {"position": "front right"}, {"component": "belt"})
    found = repairs(*lines, columns="component, position", components=places())
    assert found == [("hose", "front left"), ("hose", "front right"), ("belt", "only")]


def test_rule_12_a_line_of_labour_without_position_belongs_to_the_position_its_order_names():
    lines = ({"position": "front right"}, {"position": None, "action": "adjusted"})
    found = repairs(*lines, columns="position, position_inferred, lines", components=places())
    assert found == [("front right", False, 2)]


def test_rule_12_identical_lines_without_numbers_of_their_own_are_one_repair_and_a_finding():
    numbered = {"part_no": "H1", "quantity": 1.0, "inferred": "record_id"}
    connection = history(repairs=one_order(numbered, numbered))
    assert rows(connection, "select quantity, lines from repair") == [(2.0, 2)]
    assert rows(connection, "select count from left_out where kind = 'identical lines without a number'") == [1]


def test_rule_13_an_empty_quantity_is_one_and_marked():
    connection = history(repairs=[job("2001-03-09", part_no="H1")])
    assert rows(connection, "select quantity, part_used, inferred from line") == [(1.0, True, "quantity")]
    assert rows(connection, "select quantity from repair") == [1.0]


@pytest.mark.parametrize("quantity", [0.0, -1.0])
def test_rule_13_a_quantity_of_zero_or_less_removes_no_failure_and_its_part_is_not_used(quantity):
    found = repairs({"part_no": "H1", "quantity": quantity}, columns="reads_as, action, renews, part_used, quantity")
    assert found == [("failure", "replaced", False, False, 0.0)]


def test_rule_13_a_part_credited_on_the_same_order_is_not_used():
    fitted = {"part_no": "H1", "quantity": 1.0}
    credit = {"part_no": "H1", "quantity": -1.0, "reason": None, "action": None}
    assert repairs(fitted, credit, columns="reads_as, renews, part_used, quantity") == [("failure", False, False, 0.0)]
    instead = {"part_no": "H2", "quantity": 1.0}
    found = repairs(fitted, credit, instead, columns="reads_as, renews, part_used, part_no, quantity")
    assert found == [("failure", True, True, "H2", 1.0)]
    two = {"part_no": "H1", "quantity": 3.0}
    assert repairs(two, credit, columns="renews, part_used, quantity") == [(True, True, 2.0)]


def test_rule_13_quantities_are_of_parts_and_not_of_failures():
    connection = history(repairs=one_order({"part_no": "H1", "quantity": 5.0}))
    assert rows(connection, "select count(*) from repair") == [1]


def test_rule_13_the_quantity_of_another_part_or_of_labour_is_not_added():
    lines = ({"part_no": "H1", "quantity": 1.0}, {"part_no": "clip", "quantity": 4.0}, {"action": "adjusted"})
    assert repairs(*lines, columns="part_no, quantity") == [("H1", 1.0)]


def test_rule_13_the_part_of_a_repair_is_one_that_belongs_to_its_component():
    lines = ({"part_no": "clip", "quantity": 4.0}, {"part_no": "H1", "quantity": 1.0})
    parts = [PART, {"part_no": "clip", "component": "clip"}]
    assert repairs(*lines, columns="part_no, quantity", parts=parts) == [("H1", 1.0)]


def test_rule_14_a_line_without_component_is_no_failure_of_anything():
    connection = history(repairs=[job("2001-03-09", None), job("2002-03-09")], components=places(positions=FOUR[:1]))
    assert rows(connection, "select component from repair") == ["hose"]
    assert rows(connection, "select count, out_of from left_out where kind = 'no component'") == [(1, 2)]
