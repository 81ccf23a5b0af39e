"""The first hour of a new user: three cars, twenty lines, nothing to refuse."""

from collections import Counter
from datetime import date

import polars as pl
import pytest

from analytics import records
from sample_data.twenty import write_twenty


@pytest.fixture(scope="module")
def judged(tmp_path_factory):
    folder = tmp_path_factory.mktemp("twenty") / "feed"
    write_twenty(folder)
    assert {path.name for path in folder.iterdir()} == {"vehicles.csv", "repairs.csv"}
    mapped = records.map_feed(folder)
    return {
        name: records.judge(name, text, loaded_on=date(2026, 11, 25), settings=mapped.settings)
        for name, text in mapped.tables.items()
    }


def test_three_cars_and_twenty_lines_are_taken_as_they_are(judged):
    assert judged["vehicles"].accepted.height == 3
    assert judged["repairs"].accepted.height == 20
    assert all(each.quarantined.height == each.set_aside.height == 0 for each in judged.values())


def test_there_is_something_true_to_show_and_something_too_thin_to_say(judged):
    lines = judged["repairs"].accepted
    failures = Counter(lines.filter(pl.col("reason") == "failure")["component"])
    assert failures["flap actuator"] == 3
    assert max(failures.values()) < 5
    left = lines.filter(pl.col("reason") == "found at inspection", pl.col("action") == "inspected")
    assert left["component"].to_list() == ["hydraulic line"]
    this_year = lines.filter(pl.col("closed_on") >= date(2026, 1, 1), pl.col("part_no").is_not_null())
    assert this_year.height == 4


def test_it_is_written_the_same_every_time(tmp_path):
    write_twenty(tmp_path / "a")
    write_twenty(tmp_path / "b")
    for name in ("vehicles.csv", "repairs.csv"):
        assert (tmp_path / "a" / name).read_bytes() == (tmp_path / "b" / name).read_bytes()
