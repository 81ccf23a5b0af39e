"""Whether a modification helped, in words."""

import pytest

from dashboards.answers import modified
from tests.dashboards.snapshot_rows import AS_OF, frame

ROW = {"component": "hose", "kind": "modified", "modification": "guard", "vehicles": 40, "led_to_it": 31}
ROW |= {"after_failures": 10, "after_years": 210.0, "after_rate": 4.76, "after_lower": 2.6, "after_upper": 8.1}
ROW |= {"expected": 24.0, "ratio": 0.417, "lower": 0.21, "upper": 0.83, "verdict": "fewer failures"}


def row(**more):
    return frame("before_after", [{**ROW, **more}]).row(0, named=True)


@pytest.mark.parametrize(
    ("more", "state", "sentence"),
    [
        (
            {},
            "ink",
            "Hose: guard: it helped: ten failures since, where about 24 would have come without it, "
            "0.42 times as many (could be 0.21 to 0.83).",
        ),
        (
            {"verdict": "more failures", "expected": 4.0, "ratio": 2.5, "lower": 1.2, "upper": 4.9},
            "ink",
            "Hose: guard: it fails more often: ten failures since, where about 4.0 would have come without it, "
            "2.5 times as many (could be 1.2 to 4.9).",
        ),
        (
            {"verdict": "cannot be told", "expected": 12.0, "ratio": 0.83, "lower": 0.5, "upper": 1.6},
            "pencil",
            "Hose: guard: whether it helped cannot be told: ten failures since, where about 12 would have come "
            "without it, 0.83 times as many (could be 0.50 to 1.6).",
        ),
        (
            {"verdict": "too few", "expected": None, "ratio": None, "after_failures": 1},
            "blank",
            "Hose: guard: too little to say whether it helped, one failure since.",
        ),
    ],
)
def test_a_verdict_is_said_with_its_counts(more, state, sentence):
    said = modified.modified_answer(row(**more), AS_OF)
    assert (said.state, said.sentence) == (state, sentence)
    assert (said.notes == (modified.TRAP,)) == (state != "blank")


def test_the_table_tells_before_since_and_not_modified():
    told = modified.table(row(before_failures=6, before_years=150.04))
    assert told["failures"].to_list() == [6, 10, 0]
    assert told["a year in 100 parts"].to_list() == ["not known", "4.8 (2.6 to 8.1)", "not known"]
    assert modified.led_to_it(row()).startswith("31 failures led to it")
    assert "None" in modified.led_to_it(row(led_to_it=0))


def test_what_can_be_told_comes_first():
    rows = [{**ROW, "modification": "a", "verdict": "cannot be told"}, {**ROW, "modification": "b"}]
    assert modified.first(frame("before_after", rows))["modification"].to_list() == ["b", "a"]
