"""``wearledger same``, as a user types it, up to the snapshot and one car's story."""

import shlex

import polars as pl
import pytest

from analytics.cli import main
from tests.conftest import loaded
from tests.snapshot_tables import table

LINES = """record_id,line_no,vehicle_id,closed_on,component,position,location,action,reason
1,1,A,2019-03-01,Fuel-Hose,L,sill LH,replaced,failure
2,1,A,2020-03-01,fuel hose,left,sill left,replaced,failure
3,1,B,2020-05-01,fuel hose,right,sill left,replaced,planned
4,1,B,2021-05-01,fuel hoze,Right,,inspected,planned
"""


@pytest.fixture
def data(tmp_path):
    feed = tmp_path / "feed"
    feed.mkdir()
    (feed / "vehicles.csv").write_text("vehicle_id,series\nA,S1\nB,S1\n", encoding="utf-8")
    (feed / "repairs.csv").write_text(LINES, encoding="utf-8")
    return loaded(tmp_path / "data", feed)


def run(data, *words):
    return main(["--data", str(data), *words])


def test_a_snapshot_shows_one_name_and_counts_what_was_read_otherwise(data):
    record = table(data, "record").sort("record")
    assert record["component"].to_list() == [*["fuel hose"] * 3, "fuel hoze"]
    assert record["position"].to_list() == ["left", "left", "right", "right"]
    assert record["location"].to_list() == [*["sill left"] * 3, None]
    found = table(data, "data_quality").filter(pl.col("kind").str.contains("otherwise")).sort("kind")
    assert found.select("kind", "count", "example_record").rows() == [
        ("component written otherwise", 1, "1/1"),
        ("location written otherwise", 1, "1/1"),
        ("position written otherwise", 2, "1/1"),
    ]
    assert "Fuel-Hose as fuel hose" in found["says"][0]


def test_a_proposal_can_be_pasted_listed_and_taken_back(data, capsys):
    before = table(data, "record")
    assert run(data, "same", "--propose") == 0
    out = capsys.readouterr().out
    assert "component 'fuel hoze' (1 line, such as 4/1) may be 'fuel hose' (3 lines, such as 1/1)" in out
    assert "1 pair to look at; none is read as one before you say so" in out
    (command,) = [line.split("if so: wearledger ")[1] for line in out.splitlines() if "if so:" in line]
    assert main(shlex.split(command)) == 0
    assert "next: wearledger analyse" in capsys.readouterr().out
    assert run(data, "analyse") == 0
    assert set(table(data, "record")["component"]) == {"fuel hose"}
    kinds = table(data, "data_quality")["kind"].to_list()
    assert "component said to be another one" in kinds
    capsys.readouterr()
    assert run(data, "same") == 0
    assert "component 'fuel hoze' is read as 'fuel hose'\n1 name said to be another one" in capsys.readouterr().out
    assert run(data, "same", "--undo", "component", "Fuel Hoze") == 0
    assert run(data, "analyse") == 0
    assert table(data, "record").equals(before)


def test_a_car_of_two_ids_has_one_story_under_either(data, capsys):
    assert run(data, "same", "vehicle", "B", "A") == 0
    assert run(data, "analyse") == 0
    assert table(data, "vehicle")["vehicle_id"].to_list() == ["A"]
    capsys.readouterr()
    stories = []
    for name in ("A", "B"):
        assert run(data, "history", name) == 0
        stories.append(capsys.readouterr().out)
    assert stories[0] == stories[1]


def test_what_is_not_said_whole_is_wrong_usage(data, capsys):
    for words in (["component", "a"], ["colour", "a", "b"], ["--undo", "component"], ["--propose", "part", "a", "b"]):
        with pytest.raises(SystemExit) as stopped:
            run(data, "same", *words)
        assert stopped.value.code == 2
    assert "KIND is one of component, part, location, position, vehicle" in capsys.readouterr().err


def test_nothing_said_and_nothing_alike_are_told(data, capsys):
    assert run(data, "same") == 0
    assert "no name is said to be another" in capsys.readouterr().out
    assert run(data, "same", "component", "hose", "hose") == 1
    assert "read as one component already" in capsys.readouterr().err
