"""A forgotten car: no byte and no value of it stays, all else stays as it was, and a stop at any moment is no harm."""

import json

import polars as pl
import pytest

from analytics.cli import main
from analytics.errors import LedgerError
from analytics.ledger import forget as forget_car
from analytics.ledger import load, open_ledger, quarantine_rows, rebuild, undo, withdraw, write_quarantine
from analytics.ledger.answers import ledger_hash
from analytics.ledger.feeds import feeds_dir
from analytics.ledger.journal import read_journal
from analytics.pipeline import analyse
from analytics.records import map_feed
from tests.ledger.feeds import LOADED_ON, ask, job, put, tell
from tests.ledger.forgotten import CAR, TRACES, assert_good, fill, other, traces


def test_no_byte_and_no_value_of_the_car_stays_and_all_else_does(tmp_path):
    data, never = tmp_path / "data", tmp_path / "never"
    fill(data)
    fill(never, with_car=False)
    withdraw(data, "shop:ORDER-881", reason="whistling gearbox")
    withdraw(data, "shop:3", reason="void")
    withdraw(never, "shop:3", reason="void")
    for each in (data, never):
        analyse(each)
    rebuild(data)
    assert {word for _, word in traces(data)} == {*TRACES}
    told = forget_car(data, CAR)
    assert traces(data) == []
    assert told.rows == {"vehicles": 1, "repairs": 4, "readings": 1}
    assert told.feeds == 2
    assert told.held["withdrawal"] == 1
    assert told.snapshots == 1
    assert_good(data)
    assert tell(data, ledger_hash) == tell(never, ledger_hash)
    analyse(data)
    assert [path.name for path in (data / "snapshots").glob("*.duckdb")] == [
        path.name for path in (never / "snapshots").glob("*.duckdb")
    ]
    before = tell(data, ledger_hash)
    assert rebuild(data) == before
    assert traces(data) == []
    assert_good(data)


def test_nothing_is_left_beside_the_ledger(tmp_path):
    fill(tmp_path)
    rebuild(tmp_path)
    left = feeds_dir(tmp_path) / ("0" * 64)
    left.mkdir()
    (left / "repairs.parquet").write_text(CAR)
    (tmp_path / "snapshots").mkdir()
    (tmp_path / "snapshots" / "2020-01-01-0.damaged").write_text(CAR)
    forget_car(tmp_path, CAR)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["feeds", "ledger.duckdb", "ledger.lock", "snapshots"]
    assert traces(tmp_path) == []


def test_loads_made_before_can_still_be_undone_and_numbers_stay(tmp_path):
    fill(tmp_path)
    undo(tmp_path, 2)
    forget_car(tmp_path, CAR)
    assert ask(tmp_path, "select record_id from repairs order by 1") == [("1",), ("4",)]
    assert [step.get("load_id") for step in read_journal(tmp_path)] == [1, 2, 3, 2]
    assert undo(tmp_path, 1) == {4: 5}
    assert_good(tmp_path)
    rebuild(tmp_path)
    assert_good(tmp_path)


def test_rows_mended_on_the_quarantine_sheet_stay_mended(tmp_path):
    data, sheet = tmp_path / "data", tmp_path / "mend.xlsx"
    fill(data)
    put(data, source="shop", repairs=[job("77x", vehicle_id="typing error", note="whistling gearbox")])
    with open_ledger(data, write=False) as connection:
        write_quarantine(connection, sheet)
    rows = pl.read_excel(sheet, sheet_name="repairs", infer_schema_length=0)
    mended = rows.with_columns(
        action=pl.lit("replaced"),
        vehicle_id=pl.when(pl.col("record_id") == "2").then(pl.lit("B")).otherwise(pl.lit(CAR)),
    )
    sheet.unlink()
    mended.write_excel(sheet, worksheet="repairs")
    load(data, map_feed(sheet), loaded_on=LOADED_ON)
    assert ask(data, f"select count(*) from repairs where vehicle_id = '{CAR}'") == [(5,)]
    forget_car(data, CAR)
    assert traces(data, (*TRACES, "typing error", "77x")) == []
    assert ask(data, "select record_id, source from repairs where record_id = '2'") == [("2", "shop")]
    assert tell(data, quarantine_rows).is_empty()
    assert_good(data)
    rebuild(data)
    assert ask(data, "select record_id, source from repairs where record_id = '2'") == [("2", "shop")]


def test_other_spellings_are_the_car_and_other_cars_of_its_number_are_not(tmp_path):
    cars = [{"vehicle_id": each, "series": "first"} for each in (CAR, "B", CAR.upper())]
    put(
        tmp_path,
        source="shop",
        vehicles=cars,
        repairs=[
            job("17", vehicle_id=CAR),
            job("18", vehicle_id=CAR.lower(), note="typed in a hurry"),
            job("19", vehicle_id=CAR.upper()),
            job("17", "2", vehicle_id="B"),
            job("17", "3", vehicle_id=None, note="nameless line"),
        ],
    )
    put(tmp_path, source="branch", repairs=[job("17", vehicle_id=None, note="of another workshop")])
    told = forget_car(tmp_path, CAR)
    assert told.rows == {"vehicles": 1, "repairs": 3}
    assert traces(tmp_path, [CAR, CAR.lower(), "typed in a hurry", "nameless line"]) == []
    assert {word for _, word in traces(tmp_path, [CAR.upper(), "of another workshop"])} == {
        CAR.upper(),
        "of another workshop",
    }
    assert_good(tmp_path)


def test_a_snapshot_without_the_car_stays_and_is_the_newest(tmp_path):
    put(tmp_path, source="shop", vehicles=[{"vehicle_id": "B", "series": "first"}], repairs=[other("1")])
    kept = analyse(tmp_path).snapshot_id
    put(
        tmp_path,
        source="shop",
        vehicles=[{"vehicle_id": CAR, "series": "first"}],
        repairs=[job("9", vehicle_id=CAR, closed_on="2021-01-01")],
    )
    gone = analyse(tmp_path).snapshot_id
    told = forget_car(tmp_path, CAR)
    assert (told.newest, told.snapshots) == (kept, 1)
    assert [path.stem for path in (tmp_path / "snapshots").glob("*.duckdb")] == [kept]
    assert gone != kept
    assert_good(tmp_path)


def test_the_command_says_what_was_removed_and_what_still_holds_the_car(tmp_path, capsys):
    fill(tmp_path)
    analyse(tmp_path)
    assert main(["forget", CAR, "--data", str(tmp_path)]) == 0
    said = capsys.readouterr().out
    assert "removed from 2 kept feeds: 1 row of readings, 4 rows of repairs, 1 row of vehicles" in said
    assert "deleted because they held the car: 1 snapshot\n" in said
    assert "backups, exports and pages made earlier still hold the car" in said
    assert "next: wearledger analyse --data" in said
    assert main(["forget", CAR, "--data", str(tmp_path)]) == 1
    assert "was ever loaded" in capsys.readouterr().err


def test_an_unknown_car_is_refused_and_nothing_changes(tmp_path):
    fill(tmp_path)
    before = {path: path.read_bytes() for path in feeds_dir(tmp_path).rglob("*") if path.is_file()}
    with pytest.raises(LedgerError, match="no car 'Kestrel-7' was ever loaded"):
        forget_car(tmp_path, "Kestrel-7")
    assert {path: path.read_bytes() for path in feeds_dir(tmp_path).rglob("*") if path.is_file()} == before
    with pytest.raises(LedgerError, match="no ledger yet"):
        forget_car(tmp_path / "nothing", CAR)
    assert not (tmp_path / "nothing").exists()


def test_a_text_of_another_car_that_names_it_is_told(tmp_path):
    fill(tmp_path)
    put(tmp_path, source="shop", repairs=[other("5", note=f"engine out of ({CAR.lower()})")])
    told = forget_car(tmp_path, CAR)
    assert told.mentions == 1
    assert any("not rewritten: 1 row of other cars" in line for line in told.sentences())


def test_a_reason_or_a_name_that_somebody_typed_with_its_id_is_told(tmp_path):
    fill(tmp_path)
    put(tmp_path, source="shop", repairs=[other("5"), other("6")])
    withdraw(tmp_path, "shop:5", reason=f"belongs to {CAR}")
    told = forget_car(tmp_path, CAR)
    assert told.said == 1
    assert any("not rewritten: 1 reason or name typed with its id" in line for line in told.sentences())


def test_the_mapping_kept_beside_the_rows_does_not_name_it(tmp_path):
    put(
        tmp_path,
        source="shop",
        vehicles=[{"vehicle_id": CAR, "series": "first"}],
        repairs=[job(vehicle_id=CAR)],
        mapping_text=f'source = "shop"\nskip = {{Car = ["{CAR}", "Z"]}}\n',
    )
    forget_car(tmp_path, CAR)
    assert traces(tmp_path) == []
    assert_good(tmp_path)


def test_the_journal_stays_one_that_can_be_read(tmp_path):
    fill(tmp_path)
    withdraw(tmp_path, "shop:ORDER-881/1", reason="entered twice")
    forget_car(tmp_path, CAR)
    text = (feeds_dir(tmp_path) / "journal.jsonl").read_text()
    assert [json.loads(line)["did"] for line in text.splitlines()] == ["load", "load", "load"]
    assert {step["feed"] for step in read_journal(tmp_path)} == {
        path.name for path in feeds_dir(tmp_path).iterdir() if path.is_dir()
    }


def test_a_feed_of_that_car_alone_stays_as_an_empty_load(tmp_path):
    put(tmp_path, source="shop", vehicles=[{"vehicle_id": "B", "series": "first"}], repairs=[other("1")])
    put(tmp_path, source="shop", vehicles=[{"vehicle_id": CAR, "series": "first"}], repairs=[job("9", vehicle_id=CAR)])
    forget_car(tmp_path, CAR)
    assert ask(tmp_path, "select load_id, rows_read from load order by 1") == [(1, 2), (2, 0)]
    assert_good(tmp_path)
