"""Which positions were modified, or got the design that supersedes another, and when units were renewed."""

from datetime import date

from tests.spells.exposure_of import exposed, seen
from tests.spells.history_of import job

FIRST, LAST = seen("2010-01-01"), seen("2020-01-01")
OLD = {"part_no": "H1", "component": "hose", "superseded_by": "H2"}
NEW = {"part_no": "H2", "component": "hose"}
OTHER = {"part_no": "H3", "component": "hose"}


def marked(repairs, parts=()):
    found = exposed(repairs=[FIRST, *repairs, LAST], parts=list(parts)).modification
    return found.select("kind", "modification", "from_on", "until_on").rows()


def test_rule_09_the_action_modified_marks_a_position_once_from_its_first_day():
    rows = [job("2015-01-01", action="modified"), job("2016-01-01", action="modified", reason="planned")]
    assert marked(rows) == [("modified", "modified", date(2015, 1, 1), None)]
    named = [job("2015-01-01", action="modified", part_no="K1")]
    assert marked(named) == [("modified", "K1", date(2015, 1, 1), None)]


def test_rule_18_a_design_that_supersedes_another_is_a_modification_until_another_is_fitted():
    rows = [job("2012-01-01", part_no="H1"), job("2015-01-01", part_no="H2"), job("2017-01-01", part_no="H1")]
    assert marked(rows, [OLD, NEW]) == [("design", "H2", date(2015, 1, 1), date(2017, 1, 1))]
    assert marked(rows[:2], [OLD, NEW]) == [("design", "H2", date(2015, 1, 1), None)]


def test_a_design_that_supersedes_none_is_no_modification():
    assert marked([job("2015-01-01", part_no="H3")], [OLD, NEW, OTHER]) == []
    same = [{**OLD, "variant": "one"}, {**NEW, "variant": "one"}]
    assert marked([job("2015-01-01", part_no="H2")], same) == []


def test_rule_09_renewals_are_told_by_their_hand_over():
    rows = [job("2012-01-01"), job("2014-01-01", action="repaired"), job("2016-01-01", reason="planned")]
    found = exposed(repairs=[FIRST, *rows, LAST]).renewal
    assert found.select("component", "position", "day").rows() == [
        ("hose", "only", date(2012, 1, 1)),
        ("hose", "only", date(2016, 1, 1)),
    ]
