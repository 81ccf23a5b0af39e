"""Vehicle ids hidden behind a key: before anything is written, the same each time, and never guessable without it."""

import os
import re
import shutil
import stat

import polars as pl
import pytest

from analytics.cli import main
from analytics.errors import FeedError, LedgerError
from analytics.ledger import backup as back_up
from analytics.ledger import doctor, forget, load, open_ledger, rebuild, restore, write_quarantine
from analytics.ledger import private_key as module
from analytics.ledger.connect import ledger_path
from analytics.ledger.private_key import MARK, hide_cars, key_path, known_as
from analytics.pipeline import analyse
from analytics.records import map_feed, parse_mapping
from tests.ledger.feeds import LOADED_ON, ask, feed, job, put
from tests.ledger.forgotten import assert_good, traces

PLAIN = "Kestrel-77"
MAPPING = """source = "shop"
[settings]
vehicle_id = "keyed hash"
[[vehicles]]
file = "cars.csv"
columns = {vehicle_id = "Car", series = "Series"}
[[repairs]]
file = "jobs.csv"
columns = {vehicle_id = "Car", closed_on = "Day", component = "Part"}
constants = {action = "replaced", reason = "failure"}
[[readings]]
file = "jobs.csv"
columns = {vehicle_id = "Car", read_on = "Day", odometer = "Km"}
"""


@pytest.fixture
def export(tmp_path):
    """Write an export without job numbers, and its mapping; return both."""
    folder = tmp_path / "export"
    folder.mkdir()
    (folder / "cars.csv").write_text(f"Car,Series\n{PLAIN},first\n B ,first\n")
    (folder / "jobs.csv").write_text(f"Car,Day,Part,Km\n {PLAIN} ,2020-01-01,hose,5\nB,2020-02-02,pump,6\n")
    mapping = tmp_path / "theirs.toml"
    mapping.write_text(MAPPING)
    return folder, mapping


def take(data, export):
    folder, mapping = export
    mapped = map_feed(folder, parse_mapping(mapping))
    return load(data, mapped, loaded_on=LOADED_ON, mapping_text=mapping.read_text())


def keyed(**tables):
    return feed(source="shop", settings={"vehicle_id": "keyed hash"}, **tables)


def test_no_plain_id_is_written_and_the_same_key_gives_the_same_names(tmp_path, export):
    data = tmp_path / "data"
    take(data, export)
    analyse(data)
    assert traces(data, [PLAIN]) == []
    cars = [car for (car,) in ask(data, "select vehicle_id from vehicles order by 1")]
    assert all(re.fullmatch("car-[0-9a-f]{16}", car) for car in cars)
    assert {
        car for (car,) in ask(data, "select vehicle_id from repairs union from (select vehicle_id from readings)")
    } == {*cars}
    assert take(data, export).already_known
    (export[0] / "jobs.csv").write_text(f"Car,Day,Part,Km\n{PLAIN},2021-01-01,hose,9\n")
    assert take(data, export).count("accepted") == 2
    assert ask(data, f"select count(*) from repairs where vehicle_id = '{known_as(data, PLAIN)[1]}'") == [(2,)]
    rebuild(data)
    assert_good(data)


def test_the_key_is_random_and_for_its_owner_only(tmp_path, export):
    for name in ("one", "two"):
        take(tmp_path / name, export)
    keys = {key_path(tmp_path / name).read_text() for name in ("one", "two")}
    assert len(keys) == 2
    assert all(re.fullmatch("[0-9a-f]{64}\n", key) for key in keys)
    assert known_as(tmp_path / "one", PLAIN) != known_as(tmp_path / "two", PLAIN)
    if os.name != "nt":
        assert stat.S_IMODE(key_path(tmp_path / "one").stat().st_mode) == 0o600
        assert stat.S_IMODE(key_path(tmp_path / "one").parent.stat().st_mode) == 0o700


def test_job_numbers_tell_no_car_either(tmp_path, export):
    """A number formed from the content could be formed again by whoever guesses the car and the day."""
    one, two = tmp_path / "one", tmp_path / "two"
    formed = map_feed(export[0], parse_mapping(export[1])).tables["repairs"]["record_id"]
    for data in (one, two):
        take(data, export)
    numbers = [{n for (n,) in ask(data, "select record_id from repairs")} for data in (one, two)]
    assert not numbers[0] & numbers[1]
    assert not numbers[0] & {*formed}
    assert all(number.startswith("content-") for number in numbers[0])
    put(
        one,
        "shop",
        {"vehicle_id": "keyed hash"},
        repairs=[job(f"{PLAIN}/12", vehicle_id=PLAIN), job("34", vehicle_id=PLAIN)],
    )
    told = {n for (n,) in ask(one, "select record_id from repairs where record_id not like 'content%'")}
    assert "34" in told
    assert re.fullmatch("job-[0-9a-f]{16}", (told - {"34"}).pop())
    assert traces(one, [PLAIN]) == []


def test_the_key_of_another_ledger_or_none_is_refused(tmp_path, export):
    data = tmp_path / "data"
    take(data, export)
    key = key_path(data).read_text()
    for text, says in ((None, "is not here"), ("0" * 64 + "\n", "another key"), ("", "not what was written")):
        key_path(data).unlink()
        if text is not None:
            key_path(data).write_text(text)
        before = sorted(path.name for path in (data / "feeds").iterdir())
        with pytest.raises(LedgerError, match=says):
            take(data, export)
        assert sorted(path.name for path in (data / "feeds").iterdir()) == before
        key_path(data).touch()
    key_path(data).write_text(key)
    assert take(data, export).already_known


def test_two_cars_with_one_hash_are_refused_before_anything_is_written(tmp_path, monkeypatch):
    monkeypatch.setattr(module, "_digest", lambda _, __: "0" * 16)
    with pytest.raises(FeedError, match="two cars"):
        load(tmp_path, keyed(vehicles=[{"vehicle_id": "A"}, {"vehicle_id": "B"}]), loaded_on=LOADED_ON)
    assert not ledger_path(tmp_path).exists()


def test_what_still_tells_the_car_is_said(tmp_path):
    mapped = keyed(
        vehicles=[{"vehicle_id": PLAIN, "series": "first"}, {"vehicle_id": "B", "series": "first"}],
        repairs=[job(vehicle_id=PLAIN, note=f"towed {PLAIN.lower()}!"), job("2", vehicle_id="B", note="fuse box")],
    )
    notes = hide_cars(tmp_path, mapped).notes
    assert len(notes) == 1
    assert "column note still tells the car's plain id in 1 row" in notes[0]


def test_a_text_that_could_not_be_split_is_not_kept(tmp_path):
    rows = feed(repairs=[job(vehicle_id=PLAIN)]).tables["repairs"]
    broken = pl.DataFrame(
        {"file": ["repairs.csv"], "row_no": [9], "unread": ["too many cells"], "unread text": [f"1,{PLAIN},x,y"]}
    )
    mapped = keyed(
        vehicles=[{"vehicle_id": PLAIN, "series": "first"}], repairs=pl.concat([rows, broken], how="diagonal")
    )
    load(tmp_path, mapped, loaded_on=LOADED_ON)
    assert traces(tmp_path, [PLAIN]) == []


def test_the_quarantine_sheet_of_hidden_cars_is_hidden_too(tmp_path):
    data, sheet = tmp_path / "data", tmp_path / "mend.xlsx"
    load(
        data,
        keyed(
            vehicles=[{"vehicle_id": PLAIN, "series": "first"}],
            repairs=[job("content-12", vehicle_id=PLAIN, action="x"), job("2", vehicle_id=None)],
        ),
        loaded_on=LOADED_ON,
    )
    with open_ledger(data, write=False) as connection:
        write_quarantine(connection, sheet)
    rows = pl.read_excel(sheet, sheet_name="repairs", infer_schema_length=0)
    mended = rows.with_columns(action=pl.lit("replaced"), vehicle_id=pl.col("vehicle_id").fill_null(PLAIN))
    sheet.unlink()
    mended.write_excel(sheet, worksheet="repairs")
    load(data, map_feed(sheet), loaded_on=LOADED_ON)
    assert ask(data, "select count(*), count(distinct vehicle_id) from repairs") == [(2, 1)]
    assert traces(data, [PLAIN]) == []
    assert_good(data)


def test_a_feed_without_the_setting_is_told_beside_hidden_cars(tmp_path, export):
    data = tmp_path / "data"
    take(data, export)
    assert any("undo this load" in note for note in put(data, "shop", repairs=[job()]).notes)
    assert put(tmp_path / "plain", repairs=[job()]).notes == ()
    assert not key_path(tmp_path / "plain").exists()


def test_history_and_forget_take_the_plain_id(tmp_path, export, capsys):
    data = tmp_path / "data"
    take(data, export)
    analyse(data)
    hidden = known_as(data, PLAIN)[1]
    assert main(["history", PLAIN, "--data", str(data)]) == 0
    assert hidden in capsys.readouterr().out
    assert forget(data, PLAIN).rows == {"vehicles": 1, "repairs": 1, "readings": 1}
    assert traces(data, [PLAIN, hidden]) == []
    assert_good(data)
    assert main(["history", PLAIN, "--data", str(data)]) == 1


def test_the_dry_run_tells_it_and_writes_no_key(tmp_path, export, capsys):
    data = tmp_path / "data"
    assert main(["load", str(export[0]), "--mapping", str(export[1]), "--dry-run", "--data", str(data)]) == 0
    assert "a keyed hash takes its place before anything is written" in capsys.readouterr().out
    assert not data.exists()


def test_only_that_word_is_known(tmp_path):
    (tmp_path / "m.toml").write_text('[settings]\nvehicle_id = "hidden"\n')
    with pytest.raises(FeedError, match="hidden"):
        parse_mapping(tmp_path / "m.toml")


def test_a_backup_with_the_key_goes_on_elsewhere(tmp_path, export):
    data, there = tmp_path / "data", tmp_path / "there"
    take(data, export)
    back_up(data, tmp_path / "copy.zip", with_key=True)
    restore(there, tmp_path / "copy.zip")
    assert take(there, export).already_known
    assert {value for (value,) in ask(there, f"select distinct value from setting where name = '{MARK}'")} == {
        value for (value,) in ask(data, f"select distinct value from setting where name = '{MARK}'")
    }
    assert all(finding.ok for finding in doctor(there))


def told_by(capsys, *words):
    capsys.readouterr()
    code = main([*map(str, words)])
    written = capsys.readouterr()
    return code, written.out + written.err


def test_a_key_that_is_gone_is_told_by_doctor_and_history(tmp_path, export, capsys):
    data = tmp_path / "data"
    take(data, export)
    assert main(["analyse", "--data", str(data)]) == 0
    assert told_by(capsys, "doctor", "--data", data)[0] == 0
    kept = key_path(data).read_text()
    key_path(data).unlink()
    for command in (["doctor"], ["history", PLAIN]):
        code, told = told_by(capsys, *command, "--data", data)
        assert code == 1
        assert f"its key {key_path(data)} is gone: no car can be called by its own id" in told
        assert "put the file back from a backup made with --with-key" in told
    key_path(data).write_text("x")
    assert "is not what was written" in told_by(capsys, "doctor", "--data", data)[1]
    key_path(data).write_text("0" * 64 + "\n")
    assert "is another one than that which hid the vehicle ids" in told_by(capsys, "doctor", "--data", data)[1]
    key_path(data).write_text(kept)
    assert told_by(capsys, "doctor", "--data", data)[0] == 0
    assert told_by(capsys, "history", PLAIN, "--data", data)[0] == 0


def test_no_new_key_takes_the_place_of_one_lost_with_feeds_and_journal(tmp_path, export):
    data = tmp_path / "data"
    take(data, export)
    key_path(data).unlink()
    shutil.rmtree(data / "feeds")
    with pytest.raises(LedgerError, match="another one gives the same cars new names"):
        take(data, export)
