"""An owner's papers beside cars and jobs: the age of a unit that was there before the car came becomes known."""

from datetime import date

import polars as pl
import pytest

from analytics.cli import main
from tests.first_hour.feeds import analysed
from tests.snapshot_tables import table

CARS = "vehicle_id,series,built_on\nblue coupe,S2,1974\ngrey saloon,S3,1984\n"
JOBS = """record_id,line_no,vehicle_id,opened_on,closed_on,component,action,reason
1,1,blue coupe,2015-03-02,2015-03-05,clock,adjusted,planned
2,1,blue coupe,2017-06-01,2017-06-02,clock,adjusted,planned
3,1,blue coupe,2018-09-10,2018-09-12,water pump,replaced,failure
4,1,blue coupe,2020-04-01,2020-04-02,clock,adjusted,planned
5,1,grey saloon,2016-01-04,2016-01-05,water pump,inspected,planned
6,1,grey saloon,2019-01-07,2019-01-08,clock,adjusted,planned
"""
PAPERS = """vehicle_id,component,fitted_from,fitted_to,part_no
blue coupe,water pump,2010-05-01,2010-05-31,SL-1140
grey saloon,water pump,2012-02,,
grey saloon,horn,2012-02-01,,
green van,water pump,2012-02-01,,
"""


@pytest.fixture(scope="module")
def with_papers(tmp_path_factory):
    return analysed(tmp_path_factory.mktemp("papers"), vehicles=CARS, repairs=JOBS, fitted=PAPERS)


@pytest.fixture(scope="module")
def without(tmp_path_factory):
    return analysed(tmp_path_factory.mktemp("none"), vehicles=CARS, repairs=JOBS)


def pumps(data):
    spells = table(data, "spell").filter((pl.col("component") == "water pump") & (pl.col("scale") == "age"))
    return {(row["vehicle_id"], row["unit_no"]): row for row in spells.iter_rows(named=True)}


def test_rule_20_without_papers_the_age_is_not_known(without):
    first = pumps(without)["blue coupe", 1]
    assert (first["age_known"], first["entry"]) == (False, 0)


def test_rule_20_papers_give_the_age_at_which_the_unit_came_under_watch_and_at_which_it_failed(with_papers):
    first = pumps(with_papers)["blue coupe", 1]
    fitted = date(2010, 5, 16)  # the middle of the month that the papers tell
    assert first["age_known"]
    assert first["entry"] == (date(2015, 3, 5) - fitted).days
    assert (first["exit"], first["event"]) == ((date(2018, 9, 10) - fitted).days, 1)
    assert first["part_no"] == "SL-1140"


def test_rule_20_what_is_in_the_car_now_has_its_age_too(with_papers):
    now = table(with_papers, "unit_now").filter(pl.col("component") == "water pump")
    row = now.filter(pl.col("vehicle_id") == "grey saloon").row(0, named=True)
    assert row["age_known"]
    assert row["age"] == (date(2020, 4, 2) - date(2012, 2, 15)).days


def test_papers_that_cannot_be_used_are_told_and_lose_nothing_else(with_papers, capsys):
    kind = "fitting told by papers, not used: position not told or not on the car"
    assert table(with_papers, "data_quality", kind=kind)["count"].to_list() == [1]
    capsys.readouterr()
    assert main(["quarantine", "--data", str(with_papers)]) == 0
    assert "green van is no known car" in capsys.readouterr().out
