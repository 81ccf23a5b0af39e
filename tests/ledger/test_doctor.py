"""The doctor: a healthy folder is told so; each loss and each change is found."""

import shutil
from pathlib import Path

import duckdb
import polars as pl
import pytest

from analytics.errors import LedgerError
from analytics.ledger import doctor, load, open_ledger, rebuild, undo
from analytics.ledger.connect import ledger_path
from analytics.ledger.feeds import feeds_dir, keep_feed
from analytics.ledger.journal import journal_path
from analytics.pipeline import analyse
from tests.ledger.feeds import CAR, LOADED_ON, feed, job, put


@pytest.fixture(scope="module")
def healthy(tmp_path_factory):
    data = tmp_path_factory.mktemp("healthy")
    put(data, repairs=[job("1"), job("2"), job("3", action="polished up")])
    put(data, vehicles=[CAR], repairs=[job("1", cost="5"), job("4", odometer="x")])
    return data


@pytest.fixture
def data(healthy, tmp_path):
    return shutil.copytree(healthy, tmp_path / "data")


def wrong(data):
    return [(finding.kind, finding.says) for finding in doctor(data) if not finding.ok]


def kinds(data):
    return {kind for kind, _ in wrong(data)}


def behind_its_back(data, sql):
    with open_ledger(data, write=True) as connection:
        connection.execute(sql)


def test_a_healthy_folder_is_told_so(data):
    findings = doctor(data)
    assert all(finding.ok for finding in findings)
    assert [finding.kind for finding in findings] == [
        "ledger", "counts", "content", "quarantine", "journal", "feeds", "feed rows", "snapshots", "disk",
    ]  # fmt: skip
    says = {finding.kind: finding.says for finding in findings}
    assert "7 rows read in 2 loads" in says["counts"]
    assert says["quarantine"].startswith("1 row waits")


@pytest.mark.parametrize(
    "sql",
    [
        "delete from repairs_revision where record_id = '2'",
        "delete from repairs_revision where load_id = 2",
        "delete from vehicles_revision",
        "delete from quarantine_row",
        "delete from load where load_id = 1",
        "delete from load_file where load_id = 2",
        "update load_file set unchanged = unchanged + 1 where load_id = 2 and table_name = 'vehicles'",
        "insert into repairs_revision select * from repairs_revision limit 1",
    ],
)
def test_rows_deleted_or_added_behind_its_back_are_found(data, sql):
    behind_its_back(data, sql)
    assert "counts" in kinds(data)


@pytest.mark.parametrize("change", ["cost = 6", "closed_on = closed_on + 1", "note = ''", "inferred = 'cost'"])
def test_a_cell_changed_behind_its_back_is_found(data, change):
    behind_its_back(data, f"update repairs_revision set {change} where cost = 5")
    assert wrong(data) == [
        (
            "content",
            "1 row of repairs is not what was loaded; build the ledger again from the kept feeds: `wearledger rebuild`",
        )
    ]


def test_one_flipped_byte_in_a_kept_feed_is_found(data):
    path = next(feeds_dir(data).glob("*/repairs.parquet"))
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 1
    path.write_bytes(content)
    ((kind, says),) = wrong(data)
    assert kind == "feeds"
    assert path.parent.name[:8] in says
    assert "repairs.parquet" in says


def test_a_deleted_feed_is_found(data):
    folder = next(path for path in feeds_dir(data).iterdir() if path.is_dir())
    folder.rename(data / "elsewhere")
    assert [kind for kind, _ in wrong(data)] == ["feeds"]
    assert f"{folder.name[:8]} is gone" in wrong(data)[0][1]


def test_a_load_that_was_lost_from_the_ledger_is_found_by_its_feed(data):
    behind_its_back(data, "delete from load where load_id = 2")
    behind_its_back(data, "delete from load_file where load_id = 2")
    behind_its_back(data, "delete from repairs_revision where load_id = 2")
    ((kind, says),) = wrong(data)
    assert kind == "journal"
    assert "load 2 is in the journal, not in the ledger" in says


def test_a_feed_with_more_rows_than_its_load_read_is_found(data):
    behind_its_back(
        data, "update load_file set rows_read = 9, accepted = 9 where load_id = 1 and table_name = 'vehicles'"
    )
    assert "feed rows" in kinds(data)


def test_a_feed_of_a_stopped_load_is_called_a_leftover_and_is_well(data):
    keep_feed(data, feed(repairs=[job("9")]), "")
    assert wrong(data) == []
    (says,) = [finding.says for finding in doctor(data) if "leftover" in finding.says]
    assert "can be deleted" in says
    put(data, repairs=[job("9")])
    assert not any("leftover" in finding.says for finding in doctor(data))


def not_a_database(path):
    path.write_bytes(b"not a database" * 1000)


def cut_short(path):
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def flipped(path):
    content = bytearray(path.read_bytes())
    for place in range(len(content) // 3, len(content), 4096):
        content[place] ^= 255
    path.write_bytes(content)


def emptied(path):
    path.write_bytes(b"")


DAMAGES = pytest.mark.parametrize("damage", [not_a_database, cut_short, flipped, emptied, Path.unlink])


@DAMAGES
def test_a_damaged_ledger_hides_no_other_finding(data, damage):
    snapshot(data, "2026-01-01-aaaaaaaa", "2026-02-02-bbbbbbbb")
    damage(ledger_path(data))
    findings = doctor(data)
    assert {"ledger", "feeds", "snapshots", "disk"} <= {finding.kind for finding in findings}
    says = {finding.kind: finding.says for finding in findings if not finding.ok}
    assert any("`wearledger rebuild`" in told for told in says.values())
    assert "2 kept feeds are there, every byte as written" in [f.says for f in findings if f.kind == "feeds"]
    assert "LATEST" in says["snapshots"]
    rebuild(data)
    assert kinds(data) == {"snapshots"}


@DAMAGES
def test_a_damaged_ledger_is_refused_in_a_sentence_by_load_and_analysis(data, damage):
    damage(ledger_path(data))
    with pytest.raises(LedgerError, match=r"next:  run: wearledger doctor"):
        analyse(data)
    with pytest.raises(LedgerError, match=r"next:  run: wearledger doctor"):
        put_beside(data)


def put_beside(data):
    return load(data, feed(repairs=[job("9")]), loaded_on=LOADED_ON)


def test_a_rebuild_is_advised_only_where_the_kept_feeds_are_whole_and_a_load_mends_them(data):
    not_a_database(ledger_path(data))
    flip = next(path for path in feeds_dir(data).glob("*/repairs.parquet") if pl.read_parquet(path).height == 2)
    cut_short(flip)
    says = dict(wrong(data))
    assert f"each kept feed is whole, and these are not: {flip.parent.name[:8]} (export.csv)" in says["ledger"]
    assert "mends the kept feed" in says["ledger"]
    with pytest.raises(LedgerError, match=r"next:  load export\.csv again"):
        rebuild(data)
    second = feed(vehicles=[CAR], repairs=[job("1", cost="5"), job("4", odometer="x")])
    with pytest.raises(LedgerError, match="cannot be read"):
        load(data, second, loaded_on=LOADED_ON)
    assert dict(wrong(data))["ledger"].endswith("build the ledger again from the kept feeds: `wearledger rebuild`")
    rebuild(data)
    assert wrong(data) == []


def test_a_missing_file_of_a_feed_is_named_without_the_words_of_the_system(data):
    next(feeds_dir(data).glob("*/manifest.json")).unlink()
    ((kind, says),) = wrong(data)
    assert kind == "feeds"
    assert "lacks its file manifest.json; load export.csv again" in says
    assert "Errno" not in says


@pytest.mark.parametrize("content", [b"not JSON\n", b'{"did": "load"}\n', b"\xff\xfe\n", b"[1]\n"])
def test_a_damaged_journal_is_found_and_no_rebuild_advised(data, content):
    journal_path(data).write_bytes(content)
    not_a_database(ledger_path(data))
    says = dict(wrong(data))
    assert "not what was written" in says["journal"]
    assert "wearledger rebuild" not in says["ledger"]
    assert "restore a copy of the data folder" in says["ledger"]


def test_a_database_that_fails_while_it_is_open_is_told_in_a_sentence(data):
    with pytest.raises(LedgerError, match="could not answer"), open_ledger(data, write=False) as connection:
        connection.sql("select * from no_such_table")
    with pytest.raises(LedgerError, match="cannot be read"), open_ledger(data, write=False):
        raise duckdb.IOException("a block is not as written")
    with pytest.raises(LedgerError, match="no room"), open_ledger(data, write=False):
        raise duckdb.IOException("Could not write file: No space left on device")
    with pytest.raises(LedgerError, match="too little memory"), open_ledger(data, write=False):
        raise duckdb.OutOfMemoryException("failed to allocate")


def test_undone_loads_are_compared_with_the_journal(data):
    put(data, repairs=[job("9")])
    undo(data, 2)
    assert wrong(data) == []
    behind_its_back(data, "delete from undone_load where load_id = 3")
    assert ("journal", "load 3 is in the ledger, not in the journal; restore a copy of the data folder") in wrong(data)


def test_a_folder_without_a_ledger_is_told_how_to_begin(tmp_path):
    assert kinds(tmp_path) == {"ledger"}
    assert kinds(tmp_path / "nowhere") == {"ledger"}


def test_a_log_that_a_killed_process_left_is_told(data):
    log = ledger_path(data).with_suffix(".duckdb.wal")
    connection = duckdb.connect(str(ledger_path(data)))
    connection.execute("set checkpoint_threshold = '1 GB'")
    connection.execute("insert into undone_load values (0, now()::timestamp)")
    content, ledger = log.read_bytes(), ledger_path(data).read_bytes()
    connection.close()
    ledger_path(data).write_bytes(ledger)
    log.write_bytes(content)
    findings = {finding.kind: finding for finding in doctor(data)}
    assert findings["log"].ok
    assert f"{len(content)} bytes" in findings["log"].says
    assert all(finding.ok for finding in findings.values())


def snapshot(data, name, latest):
    folder = data / "snapshots"
    folder.mkdir(exist_ok=True)
    duckdb.connect(str(folder / f"{name}.duckdb")).close()
    (folder / "LATEST").write_text(latest, encoding="utf-8")
    return folder / f"{name}.duckdb"


def test_snapshots_that_can_be_read_are_well(data):
    snapshot(data, "2026-01-01-aaaaaaaa", "2026-01-01-aaaaaaaa\n")
    assert wrong(data) == []


def test_a_pointer_to_nothing_is_found(data):
    snapshot(data, "2026-01-01-aaaaaaaa", "2026-02-02-bbbbbbbb")
    assert kinds(data) == {"snapshots"}


def test_a_snapshot_that_cannot_be_read_is_found(data):
    snapshot(data, "2026-01-01-aaaaaaaa", "2026-01-01-aaaaaaaa").write_bytes(b"not a database" * 1000)
    assert kinds(data) == {"snapshots"}


def test_a_full_disk_is_found(data, monkeypatch):
    monkeypatch.setattr("shutil.disk_usage", lambda _: type("Usage", (), {"free": 1_000_000})())
    assert kinds(data) == {"disk"}
