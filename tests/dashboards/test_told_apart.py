"""Age or distance, and which parts last longer, in plain words."""

import re

import polars as pl
import pytest

from analytics.snapshot.tables import TABLES
from dashboards.answers.told_apart import longer, told_apart, wears_by
from tests.dashboards.visits import opened, said

SURE = 0.05


def choice(**told):
    return {"failures": 44, "verdict": "age", "status": "ok", **told}


def pair(**told):
    usual = {
        "component": "hose",
        "grouping": "variant",
        "level_a": "SL-1",
        "level_b": "SL-2",
        "scale": "age",
        "failures_a": 9,
        "failures_b": 14,
        "units_a": 30,
        "units_b": 30,
        "life_ratio": 1.6,
        "lower": 1.1,
        "upper": 2.4,
        "p_value": 0.01,
        "adjusted_p": 0.03,
        "comparisons": 12,
        "told_apart_best": False,
        "status": "ok",
    }
    return {**usual, **told}


def table(*rows):
    return pl.DataFrame(list(rows), schema=TABLES["comparison"].schema)


def test_the_scale_is_said_with_the_failures_that_say_it():
    assert wears_by(choice(), 10) == (
        "It wears by age rather than by distance, say 44 failures of parts whose age and distance are known."
    )
    assert wears_by(choice(verdict="distance"), 10).startswith("It wears by distance rather than by age")


def test_where_it_cannot_be_told_it_is_shown_by_age_and_the_sentence_says_why():
    assert "cannot be told from 44 failures" in wears_by(choice(verdict="cannot be told"), 10)
    few = wears_by(choice(status="too few failures", verdict="cannot be told", failures=3), 10)
    assert "10 failures" in few
    assert "so far there are 3" in few


@pytest.mark.parametrize("status", ["no km", "km missing unevenly", "too few failures", "used alike", "new word"])
def test_every_refusal_ends_with_what_is_shown(status):
    assert wears_by(choice(status=status, verdict="cannot be told"), 10).endswith("shown by age.")


def test_a_sure_difference_is_said_with_ratio_limits_counts_and_what_it_was_adjusted_for():
    assert longer(pair(), SURE) == (
        "A part of SL-2 lasts about 1.6 times as long as one of SL-1 (could be 1.1 to 2.4 times; 9 and 14 failures). "
        "Chance alone parts two lives as much in 3 of 100 cases, with twelve comparisons allowed for."
    )


def test_the_longer_one_comes_first_with_its_failures_last():
    said = longer(pair(life_ratio=0.5, lower=0.4, upper=0.8), SURE)
    assert said.startswith(
        "A part of SL-1 lasts about 2.0 times as long as one of SL-2 (could be 1.2 to 2.5 times; 14 and 9"
    )


def test_what_may_be_chance_is_not_said_to_last_longer():
    said = longer(pair(adjusted_p=0.3, lower=0.9), SURE)
    assert said.startswith("Whether a part of SL-2 lasts longer than one of SL-1 cannot be said")
    assert said.endswith("What is seen may be chance, after allowing for twelve comparisons.")


def test_a_part_without_failure_lasts_at_least_so_many_times_as_long():
    bound = {"status": "bound only", "life_ratio": None}
    said = longer(pair(**bound, lower=3.0, upper=None, failures_b=0, adjusted_p=0.0001), SURE)
    assert said.startswith("A part of SL-2 lasts at least 3.0 times as long as one of SL-1: no failure of the one, 9")
    assert said.endswith("in fewer than 1 of 1000 cases, with twelve comparisons allowed for.")
    turned = longer(pair(**bound, lower=None, upper=0.25, failures_a=0, adjusted_p=0.01), SURE)
    assert turned.startswith("A part of SL-1 lasts at least 4.0 times as long as one of SL-2")
    unsure = longer(pair(**bound, lower=0.4, upper=None, failures_b=0, adjusted_p=0.4), SURE)
    assert "cannot be said yet" in unsure


def test_too_few_and_safety_critical_show_no_figure_of_life():
    nothing = dict.fromkeys(("life_ratio", "lower", "upper", "p_value", "adjusted_p"))
    few = longer(pair(**nothing, status="too few", failures_a=2, failures_b=1), SURE)
    assert few == "Too few failures to compare parts of SL-1 with parts of SL-2: 2 and 1 failure."
    withheld = {**nothing, "p_value": 0.01, "adjusted_p": 0.02}
    assert "maker's manual" in longer(pair(**withheld, status="safety-critical"), SURE)


@pytest.mark.parametrize(
    ("grouping", "words"),
    [("series", "on SL-2"), ("part_origin", "of origin “SL-2”"), ("action", "that was SL-2"), ("variant", "of SL-2")],
)
def test_each_grouping_has_its_words(grouping, words):
    assert longer(pair(grouping=grouping), SURE).startswith(f"A part {words} lasts")


def test_the_grouping_that_is_shown_is_told_and_the_better_one_named():
    rows = table(pair(told_apart_best=True), pair(grouping="series", level_a="S1", level_b="S2", adjusted_p=0.9))
    by_series = told_apart(rows, "series", SURE)
    assert by_series[0].startswith("Whether a part on S2 lasts longer than one on S1 cannot be said")
    assert by_series[1].startswith("These parts are told apart best by design. A part of SL-2 lasts")
    assert len(told_apart(rows, "variant", SURE)) == 1
    assert told_apart(rows.head(0), "component", SURE) == ()


def test_of_many_pairs_the_surest_are_told_and_the_rest_counted():
    rows = table(*(pair(level_b=f"SL-{k}", adjusted_p=0.9 - k / 10) for k in range(2, 7)))
    said = told_apart(rows, "variant", SURE)
    assert "SL-6" in said[0]
    assert said[-1] == "The snapshot's table “comparison” holds two more pairs."


def test_the_page_of_lives_begins_with_the_scale_that_wears_the_part_and_says_which_design_lasts_longer(
    demo_dir, monkeypatch
):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    clutch = opened("lasting", component="clutch")
    assert not clutch.exception
    assert "It wears by distance rather than by age, say" in said(clutch)
    assert re.search(r"fail within \d+ 000 km", said(clutch).replace("\u202f", " "))
    flaps = said(opened("lasting", component="flap actuator"))
    assert "It wears by age rather than by distance, say" in flaps
    assert "These parts are told apart best by design: see below." in flaps
    assert re.search(r"A part of SL-7102 lasts about \d\.\d times as long as one of SL-7101", flaps)
    assert flaps.count("as long as one of SL-7101") == 1
    assert "wears by" not in said(opened("lasting", component="brake hose"))
