"""The pages' door to the snapshot: newest result at once, nothing but reading."""

import duckdb
import polars as pl
import pytest

from analytics.errors import SnapshotError
from analytics.snapshot.read import open_snapshot
from dashboards import data
from tests.dashboards.snapshot_rows import AS_OF, write


@pytest.fixture
def folder(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(tmp_path))
    return tmp_path


def cars(*names):
    return {"vehicle": [{"vehicle_id": name} for name in names]}


def test_a_new_snapshot_is_seen_at_the_next_look(folder):
    write(folder, cars("C1"), "2026-11-24-aaaaaaaa")
    assert data.current().rows("vehicle")["vehicle_id"].to_list() == ["C1"]
    write(folder, cars("C1", "C2"), "2026-11-24-bbbbbbbb")
    newest = data.current()
    assert newest.name == "2026-11-24-bbbbbbbb"
    assert newest.as_of == AS_OF
    assert newest.rows("vehicle")["vehicle_id"].to_list() == ["C1", "C2"]


def test_rows_are_those_with_the_values_asked_for(folder):
    write(folder, cars("C1", "C2"), "2026-11-24-cccccccc")
    assert data.current().rows("vehicle", vehicle_id="C2")["vehicle_id"].to_list() == ["C2"]


def test_a_named_default_is_read_from_the_snapshot(folder):
    write(folder, {}, "2026-11-24-dddddddd")
    assert data.current().number("own_failures", 99) == 5
    assert data.current().number("not there", 99) == 99


def test_what_is_cached_is_found_by_names_and_values_never_by_a_frame():
    hints = data._rows.__wrapped__.__annotations__
    assert not any("DataFrame" in str(kind) for name, kind in hints.items() if name != "return")


def test_a_snapshot_that_was_forgotten_is_shown_no_more(folder):
    path = write(folder, cars("C1"), "2026-11-24-eeeeeeee") / "snapshots" / "2026-11-24-eeeeeeee.duckdb"
    assert data.current().rows("vehicle").height == 1
    path.unlink()
    with pytest.raises(SnapshotError, match="not there"):
        data.current()


@pytest.mark.parametrize(
    "statement",
    [
        "create table t (a integer)",
        "copy vehicle to '{0}/out.csv'",
        "select * from read_text('{0}/snapshots/LATEST')",
        "set enable_external_access = true",
        "attach '{0}/other.duckdb'",
    ],
)
def test_the_connection_can_only_read_the_snapshot(folder, statement):
    write(folder, cars("C1"), "2026-11-24-ffffffff")
    with open_snapshot(folder / "snapshots" / "2026-11-24-ffffffff.duckdb") as connection, pytest.raises(duckdb.Error):
        connection.execute(statement.format(folder))


def test_frames_come_back_with_the_declared_types(folder):
    write(folder, cars("C1"), "2026-11-24-99999999")
    assert data.current().rows("vehicle").schema["first_seen"] == pl.Date
