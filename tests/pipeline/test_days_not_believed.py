"""A day of building or leaving that the visits contradict is not believed; a bare year is a range."""

import datetime as dt

import polars as pl
import pytest

from analytics.pipeline import analyse
from tests.ledger.feeds import job, put
from tests.snapshot_tables import table

BUILT_LATE = "day of building after the car was first seen"
LEFT_EARLY = "day of leaving before the car was first seen"
VISITS = ("2010-03-01", "2012-05-01", "2014-09-20")
BUILT = {
    "2010-03-02": None,
    "2011": None,
    "2010-04": None,
    "2013-01-01": None,
    "2010-03-01": dt.date(2010, 3, 1),
    "2010": dt.date(2010, 3, 1),  # the year holds the first visit: not after it, so on its day at the latest
    "2010-03": dt.date(2010, 3, 1),
    "2009": dt.date(2009, 7, 1),
    "2010-02": dt.date(2010, 2, 15),
}
LEFT = {
    "2010-02-28": None,
    "2009": None,
    "2010-02": None,
    "2012-06-01": dt.date(2012, 6, 1),  # rule 23: the day of leaving counts, two visits after it are counted
    "2014": dt.date(2014, 9, 20),  # the year holds the last visit
    "2014-09": dt.date(2014, 9, 20),
    "2014-08": dt.date(2014, 8, 15),
    "2016": None,  # rule 6
}


@pytest.fixture(scope="module")
def analysed(tmp_path_factory):
    """Cars named after the day they are told to be built or left; each was seen on three days."""
    data = tmp_path_factory.mktemp("days")
    cars = [{"vehicle_id": f"built {day}", "series": "first", "built_on": day, "left_on": None} for day in BUILT]
    cars += [{"vehicle_id": f"left {day}", "series": "first", "built_on": None, "left_on": day} for day in LEFT]
    jobs = [
        job(f"{n}-{day}", vehicle_id=car["vehicle_id"], opened_on=day, closed_on=day, component=component)
        for n, car in enumerate(cars)
        for day, component in zip(VISITS, ("hose", "pump", "hose"), strict=True)
    ]
    put(data, vehicles=cars, repairs=jobs)
    analyse(data, as_of=dt.date(2015, 1, 1))
    return data


def told(data, column, word):
    rows = table(data, "vehicle").select("vehicle_id", column).rows()
    return {name.removeprefix(f"{word} "): day for name, day in rows if name.startswith(word)}


def finding(data, kind):
    (row,) = table(data, "data_quality").filter(pl.col("kind") == kind).rows(named=True)
    return row


def test_rule_28_a_day_of_building_after_the_first_visit_is_not_believed_and_counted(analysed):
    assert told(analysed, "built_on", "built") == BUILT
    row = finding(analysed, BUILT_LATE)
    assert (row["count"], row["example_record"]) == (4, "car built 2010-03-02")
    assert row["share"] == pytest.approx(4 / 17)
    assert finding(analysed, "car without day of building")["count"] == len(LEFT)


def test_rule_28_no_car_is_younger_than_nothing(analysed):
    ages = table(analysed, "spell").filter(pl.col("scale") == "age").select("vehicle_id", "vehicle_age").drop_nulls()
    assert ages["vehicle_age"].min() >= 0
    assert {name.removeprefix("built ") for name in ages["vehicle_id"]} == {day for day in BUILT if BUILT[day]}
    assert table(analysed, "mean_cumulative")["time"].min() >= 0


def test_rule_23_a_day_of_leaving_before_the_first_visit_is_not_believed_and_counted(analysed):
    assert told(analysed, "left_on", "left") == LEFT
    row = finding(analysed, LEFT_EARLY)
    assert (row["count"], row["example_record"]) == (3, "car left 2009")
    assert finding(analysed, "visit after the car left")["count"] == 2
