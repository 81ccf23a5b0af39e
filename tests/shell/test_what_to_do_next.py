"""A refusal names the step that helps: to load, to mend, to analyse, to choose another day or another name."""

import json

import pytest

from analytics.cli import main

VEHICLES = "vehicle_id,series\na,S1\nb,S1\n"
JOBS = """record_id,vehicle_id,closed_on,component,action,reason
1,a,2019-02-03,Fuel-Hose,replaced,failure
2,b,2019-03-02,fuel hose,replaced,failure
3,b,2019-04-02,petrol pipe,replaced,failure
4,a,2020-04-02,water pump,replaced,failure
"""


def load(data, vehicles=VEHICLES, repairs=JOBS):
    feed = data / "feed"
    feed.mkdir(parents=True)
    (feed / "vehicles.csv").write_text(vehicles)
    (feed / "repairs.csv").write_text(repairs)
    assert main(["load", str(feed), "--data", str(data)]) == 0


def refusal(capsys, data, *words):
    capsys.readouterr()
    assert main([*words, "--data", str(data)]) == 1
    return capsys.readouterr().err


@pytest.mark.parametrize("words", [["show", "vehicle"], ["history", "a"], ["dashboard"], ["export", "--to", "out"]])
def test_without_a_result_the_step_that_comes_first_is_named(words, tmp_path, capsys):
    told = refusal(capsys, tmp_path / "new", *words)
    assert "run: wearledger load FOLDER" in told or "run: wearledger load --data" in told
    load(tmp_path, repairs="record_id,vehicle_id,closed_on\n1,zz,2019-02-03\n")
    told = refusal(capsys, tmp_path, *words)
    assert "1 row waits in quarantine" in told
    assert "run: wearledger quarantine" in told
    load(tmp_path / "other")
    assert "run: wearledger analyse" in refusal(capsys, tmp_path / "other", *words)


def test_a_day_before_all_records_is_answered_with_the_first_day(tmp_path, capsys):
    load(tmp_path)
    told = refusal(capsys, tmp_path, "analyse", "--as-of", "1900-01-01")
    assert "no record is dated up to 1900-01-01; the first is of 2019-02-03" in told
    assert "choose 2019-02-03 or a later day" in told
    assert main(["analyse", "--as-of", "2019-02-03", "--data", str(tmp_path)]) == 0


def test_a_component_is_shown_in_every_spelling_the_ledger_has(tmp_path, capsys):
    load(tmp_path)
    assert main(["same", "component", "petrol pipe", "fuel hose", "--data", str(tmp_path)]) == 0
    assert main(["analyse", "--data", str(tmp_path)]) == 0
    for name in ("Fuel-Hose", "fuel hose", "FUEL_HOSE.", "  Fuel  hose ", "petrol pipe", "Petrol-Pipe"):
        capsys.readouterr()
        assert main(["show", "record", "--component", name, "--format", "json", "--data", str(tmp_path)]) == 0
        out = capsys.readouterr()
        assert [row["record_id"] for row in json.loads(out.out)] == ["1", "2", "3"]
        assert "critical for safety: " in out.err


def test_a_near_miss_is_answered_with_the_nearest_names(tmp_path, capsys):
    load(tmp_path)
    assert main(["analyse", "--data", str(tmp_path)]) == 0
    assert "did you mean 'water pump'?" in refusal(capsys, tmp_path, "show", "record", "--component", "Watre pmup")
    told = refusal(capsys, tmp_path, "show", "record", "--component", "zzz")
    assert "did you mean" not in told
    assert "for example" in told


@pytest.mark.parametrize("complete", [[], ["--complete"]])
def test_a_feed_of_headings_alone_is_refused(complete, tmp_path, capsys):
    feed = tmp_path / "vehicles.csv"
    feed.write_text("vehicle_id,series\n")
    told = refusal(capsys, tmp_path / "data", "load", str(feed), *complete)
    assert "headings in it, and no row to load" in told
    assert not (tmp_path / "data").exists()
