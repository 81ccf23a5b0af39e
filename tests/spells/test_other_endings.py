"""Spells if watching ended otherwise than at the last neutral visit: by hand."""

from datetime import date

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.spells.other_endings import ENDINGS
from tests.spells.exposure_of import exposed, lives, seen
from tests.spells.history_of import car, job

FIRST, NEUTRAL, FAILED = seen("2010-01-01"), seen("2014-01-01"), job("2016-01-01")
DAY = date(2020, 12, 31)


def ended(found, ending):
    rows = found.other_spell.filter(pl.col("ending") == ending, pl.col("component") == "hose")
    return rows.select("unit_no", "entry", "exit", "event").rows()


def test_each_choice_ends_watching_on_its_own_day():
    found = exposed(repairs=[FIRST, NEUTRAL, FAILED])
    assert lives(found, "unit_no", "entry", "exit", "event") == [(1, 0, 1461, 0)]
    failed = (1, 0, (date(2016, 1, 1) - date(2010, 1, 1)).days, 1)
    assert ended(found, "last visit") == [failed]
    assert ended(found, "last visit and grace") == [failed, (2, 0, 730, 0)]
    assert ended(found, "day of analysis") == [failed, (2, 0, (DAY - date(2016, 1, 1)).days, 0)]


def test_grace_is_twice_the_usual_gap_between_the_visits_of_the_car():
    visits = [seen(f"2010-0{month}-01") for month in range(1, 6)]
    found = exposed(repairs=[*visits, job("2010-05-15"), seen("2010-01-01", "B")], vehicles=[car(), car("B")])
    gaps = sorted([31, 28, 31, 30, 14])
    assert ended(found, "last visit and grace")[1] == (2, 0, 2 * gaps[2], 0)


@pytest.mark.parametrize("ending", ["last visit and grace", "day of analysis"])
def test_nobody_is_watched_after_the_car_has_left(ending):
    found = exposed(repairs=[FIRST, NEUTRAL, FAILED], vehicles=[car(left_on="2016-03-01")])
    assert ended(found, ending)[1] == (2, 0, 60, 0)


def test_the_other_choices_leave_the_faults_as_they_are():
    with_other = exposed(repairs=[FIRST, NEUTRAL, FAILED])
    assert with_other.fault["used"].to_list() == [False]
    assert set(with_other.other_spell["ending"]) == set(ENDINGS)


def test_no_grace_is_no_other_choice():
    found = exposed(repairs=[FIRST, NEUTRAL, FAILED], parameters=Parameters(grace_gaps=0.0))
    assert ended(found, "last visit and grace") == ended(found, "last visit")
