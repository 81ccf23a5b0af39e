"""What a life turns on, and when replacing before a failure pays: in words and on the page."""

import polars as pl
import pytest

from dashboards.answers import turns_on
from tests.dashboards.visits import opened, said

YEAR = 365.25


def choice(name, years, **more):
    low = {"life50_lower": None if years is None else years * 0.9 * YEAR}
    life = {"life50": None if years is None else years * YEAR, **low, "times_shown": 1.0, "failures": 9, "scale": "age"}
    return {"choice": name, **life, **more}


def rows(*given):
    floats = dict.fromkeys(("life50", "life50_lower", "times_shown"), pl.Float64)
    return pl.DataFrame(list(given), schema_overrides=floats)


def test_choices_stand_in_one_order_with_their_lives():
    found = turns_on.choices(rows(choice("last visit", 9), choice("as shown", 10), choice("by distance", None)))
    assert found["half of them last"].to_list() == ["10 years", "9 years", "too little to say"]


def test_a_life_beyond_experience_is_no_figure():
    far = rows(choice("as shown", 300), choice("last visit", 280), choice("known age only", 310))
    assert set(turns_on.choices(far)["half of them last"]) == {"more than 50 years"}
    assert turns_on.in_short(far, "ink", "age") == ""


def test_a_bound_is_told_as_a_bound():
    found = turns_on.choices(rows(choice("as shown", None, life50_lower=4 * YEAR)))
    assert found["half of them last"].to_list() == ["at least 4 years"]


def test_rule_23_where_few_failures_are_used_the_bracket_is_told():
    both = rows(choice("as shown", 10), choice("last visit", 8))
    (said_so,) = turns_on.turning_points(both, 0.5, 0.6)
    assert "between 8 years and 10 years" in said_so
    assert turns_on.turning_points(both, 0.7, 0.6) == ()
    assert turns_on.turning_points(rows(choice("as shown", 10)), 0.5, 0.6) == ()


PLANNED = {
    "scale": "age",
    "status": "ok",
    "failures": 30,
    "age": 7 * YEAR,
    "age_lower": 6 * YEAR,
    "age_upper": 8 * YEAR,
    "saving": 0.28,
    "saving_lower": 0.2,
    "saving_upper": 0.36,
}


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        (
            {},
            "Replaced at about 7 years (could be 6 to 8 years), it costs 28 % less in the long run than waiting for "
            "the failure (20 to 36 %).",
        ),
        (
            {"saving": 0.02},
            "Hardly worth it: even at the best time, about 7 years, less than 5 % of the cost is saved.",
        ),
        (
            {"status": "may not wear out"},
            "The records do not show for certain that it wears out: replacing it early may gain nothing.",
        ),
        ({"status": "too few", "failures": 3}, "Too little to say: three failures so far."),
    ],
)
def test_planned_replacement_is_said_in_a_sentence(more, sentence):
    assert turns_on.planned({**PLANNED, **more})[0] == sentence


OTHERWISE = "if something else had been counted"


def test_the_page_shows_both_and_another_ratio_another_age(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened("lasting", component="flap actuator")
    assert not test.exception
    assert "Replaced at about 4.7 years (could be 4.2 to 5.1 years)" in said(test)
    assert "may be long gone" in said(test)
    assert OTHERWISE in said(test)
    test = opened("lasting", component="flap actuator", ratio="2 times")
    assert "Replaced at about 7.1 years" in said(test)


def test_rule_39_a_safety_critical_part_shows_neither(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    text = said(opened("lasting", component="fuel hose"))
    assert "Replaced at" not in text
    assert OTHERWISE not in text
    assert "median life" not in text.lower()
