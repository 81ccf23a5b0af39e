"""A snapshot is immutable, locked down and holds only what its tables declare."""

import duckdb
import polars as pl
import pytest

from analytics.errors import SnapshotError
from analytics.snapshot import TABLES, latest_path, open_snapshot, read_table, write_snapshot


def meta(**values):
    return pl.DataFrame({"name": list(values), "value": list(values.values())})


def test_what_is_written_is_read_back_and_named_latest(tmp_path):
    write_snapshot(tmp_path, "2020-01-01-aaaaaaaa", {"meta": meta(as_of="2020-01-01")})
    path = write_snapshot(tmp_path, "2020-01-02-bbbbbbbb", {"meta": meta(as_of="2020-01-02", version="1")})
    assert latest_path(tmp_path) == path
    with open_snapshot(path) as connection:
        assert read_table(connection, "meta", name="as_of")["value"].to_list() == ["2020-01-02"]
        for name, table in TABLES.items():
            assert tuple(read_table(connection, name).columns) == table.names


def test_the_same_id_again_writes_nothing(tmp_path):
    first = write_snapshot(tmp_path, "x", {"meta": meta(as_of="1")})
    before = first.stat().st_mtime_ns
    write_snapshot(tmp_path, "x", {"meta": meta(as_of="2")})
    assert first.stat().st_mtime_ns == before
    with open_snapshot(first) as connection:
        assert read_table(connection, "meta")["value"].to_list() == ["1"]


def test_a_reader_goes_on_while_a_new_snapshot_is_published(tmp_path):
    old = write_snapshot(tmp_path, "old", {"meta": meta(as_of="1")})
    with open_snapshot(old) as connection:
        new = write_snapshot(tmp_path, "new", {"meta": meta(as_of="2")})
        assert read_table(connection, "meta")["value"].to_list() == ["1"]
    with open_snapshot(new) as connection:
        assert read_table(connection, "meta")["value"].to_list() == ["2"]


@pytest.mark.parametrize(
    ("frame", "says"),
    [
        (pl.DataFrame({"name": ["a"]}), "lacks value"),
        (pl.DataFrame({"name": ["a", "a"], "value": ["1", "2"]}), "key_unique"),
        (pl.DataFrame({"name": ["a"], "value": [None]}), "value_present"),
    ],
)
def test_a_frame_that_breaks_its_declaration_is_refused(tmp_path, frame, says):
    with pytest.raises(SnapshotError, match=says):
        write_snapshot(tmp_path, "x", {"meta": frame})
    assert not (tmp_path / "snapshots" / "x.duckdb").exists()


def test_a_number_that_is_not_finite_is_refused(tmp_path):
    rows = {"part_no": ["a"], "horizon_days": [30.0], "quantity": [0], "probability": [float("nan")]}
    with pytest.raises(SnapshotError, match="not finite"):
        write_snapshot(tmp_path, "x", {"demand": pl.DataFrame(rows)})


def test_a_reader_reaches_no_file_and_no_setting(tmp_path):
    path = write_snapshot(tmp_path, "x", {})
    (tmp_path / "secret.csv").write_text("a\n1\n")
    with open_snapshot(path) as connection:
        for forbidden in (
            f"select * from read_csv('{tmp_path}/secret.csv')",
            "set enable_external_access=true",
            "create table t as select 1",
        ):
            with pytest.raises(duckdb.Error):
                connection.execute(forbidden)


def test_without_a_snapshot_the_reader_says_what_to_do(tmp_path):
    with pytest.raises(SnapshotError, match="wearledger analyse"):
        latest_path(tmp_path)


def test_an_unknown_table_or_column_is_refused_with_the_names(tmp_path):
    with open_snapshot(write_snapshot(tmp_path, "x", {})) as connection:
        with pytest.raises(SnapshotError, match="choose one of"):
            read_table(connection, "lives")
        with pytest.raises(SnapshotError, match="choose one of: name, value"):
            read_table(connection, "meta", colour="red")


def test_a_table_that_an_older_snapshot_lacks_is_refused_in_words(tmp_path):
    path = tmp_path / "old.duckdb"
    with duckdb.connect(str(path)) as connection:
        connection.execute("create table meta (name varchar, value varchar)")
    with open_snapshot(path) as old, pytest.raises(SnapshotError, match=r"table vehicle .* cannot be read") as told:
        read_table(old, "vehicle")
    assert "wearledger analyse" in told.value.next_step
