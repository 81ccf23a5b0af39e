"""The three cars of the README, by hand."""

from datetime import date

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.spells.exposure import build_exposure
from tests.fleet import ledger_of

PUMP = {"component": "water pump", "position": "engine front", "action": "replaced"}


def service(car, day):
    return {
        "vehicle_id": car,
        "opened_on": day,
        "closed_on": day,
        "component": "oil",
        "action": "replaced",
        "reason": "planned",
    }


def pump(car, day, reason):
    return {"vehicle_id": car, "opened_on": day, "closed_on": day, **PUMP, "reason": reason}


@pytest.fixture(scope="module")
def spells():
    ledger = ledger_of(
        vehicles=[{"vehicle_id": car, "series": "S1", "built_on": "1978-01-01"} for car in "ABC"],
        repairs=[
            service("A", "2010-03-01"),
            pump("A", "2012-03-01", "failure"),
            pump("A", "2015-03-01", "failure"),
            service("A", "2020-03-01"),
            service("B", "2011-06-01"),
            pump("B", "2013-06-01", "changed in passing"),
            service("B", "2019-06-01"),
            service("C", "2012-01-01"),
            service("C", "2013-01-01"),
        ],
    )
    exposure = build_exposure(ledger, date(2024, 1, 1), Parameters())
    return exposure.spell.filter(pl.col("component") == "water pump", pl.col("scale") == "age")


def test_only_the_time_between_first_and_last_neutral_visit_is_watched(spells):
    found = {
        (row["vehicle_id"], row["unit_no"]): (row["entry"], row["exit"], row["event"], row["age_known"])
        for row in spells.iter_rows(named=True)
    }
    assert found == {
        ("A", 1): (0, 731, 1, False),  # found at the first visit, age unknown: counted from there
        ("A", 2): (0, 1095, 1, True),  # fitted 2012, failed 2015: three years
        ("A", 3): (0, 1827, 0, True),  # still works after five years
        ("B", 1): (0, 731, 0, False),
        ("B", 2): (0, 2191, 0, True),  # still works after six years
        ("C", 1): (0, 366, 0, False),  # the one year it was watched
    }


def test_the_part_changed_in_passing_is_no_failure(spells):
    row = spells.filter(pl.col("vehicle_id") == "B", pl.col("unit_no") == 1).row(0, named=True)
    assert row["cause"] == "in passing"
