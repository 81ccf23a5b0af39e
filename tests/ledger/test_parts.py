"""A feed that is read, kept and judged part by part ends as one that is read at once."""

import sys

import polars as pl
import pytest

from analytics.ledger import load
from analytics.ledger.answers import ledger_hash
from analytics.ledger.connect import open_ledger
from analytics.ledger.feeds import feed_name, frame_hash, read_feed, rows_hash
from analytics.records import map_feed, parts, reading
from analytics.records.parts import Parts, Tables
from tests.records.feeds import LOADED_ON

NUMBERS = [*range(40), 3, 17]
"""Two jobs stand twice: one says the same again, one says something else."""


@pytest.fixture
def feed(tmp_path):
    folder = tmp_path / "feed"
    folder.mkdir()
    (folder / "vehicles.csv").write_text("vehicle_id,series\n" + "".join(f"c{n},S\n" for n in range(5)))
    lines = [
        f"J{number},1,c{number % 5 if number % 9 else 'x'},2021-05-{number % 28 + 1:02d},"
        f"{'pump' if place < 41 else 'lamp'},{'12.5' if number % 7 else 'dear'}\n"
        for place, number in enumerate(NUMBERS)
    ]
    (folder / "repairs.csv").write_text("record_id,line_no,vehicle_id,closed_on,component,cost\n" + "".join(lines))
    return folder


def in_parts(monkeypatch):
    for module in (reading, sys.modules["analytics.records.long_text"]):
        monkeypatch.setattr(module, "PART_BYTES", 100)
    monkeypatch.setattr(parts, "IN_MEMORY", 500)
    monkeypatch.setattr(parts, "ROWS_READ", 7)
    monkeypatch.setattr(sys.modules["analytics.ledger.judging"], "PART", 3)
    monkeypatch.setattr(sys.modules["analytics.ledger.placing"], "ROW_GROUP", 4)


def told(folder, report):
    with open_ledger(folder, write=False) as connection:
        return ledger_hash(connection), report.files.rows(), report.quarantined.drop("quarantine_id").rows()


def test_a_feed_in_parts_ends_in_the_same_ledger_under_the_same_name(feed, tmp_path, monkeypatch):
    whole = load(tmp_path / "whole", map_feed(feed), loaded_on=LOADED_ON)
    # five lines name a car nobody knows, and one says otherwise what another one said under its number
    assert (whole.count("quarantined"), whole.count("unchanged")) == (6, 1)
    in_parts(monkeypatch)
    mapped = map_feed(feed)
    assert len([*mapped.tables.rows("repairs")]) > 5
    split = load(tmp_path / "split", mapped, loaded_on=LOADED_ON)
    assert split.feed_hash == whole.feed_hash == feed_name(mapped, "")
    assert told(tmp_path / "split", split) == told(tmp_path / "whole", whole)


def test_the_same_feed_in_parts_is_already_known_to_a_ledger_that_read_it_at_once(feed, tmp_path, monkeypatch):
    load(tmp_path / "data", map_feed(feed), loaded_on=LOADED_ON)
    in_parts(monkeypatch)
    assert load(tmp_path / "data", map_feed(feed), loaded_on=LOADED_ON).load_id is None


def test_a_kept_feed_is_read_back_in_parts_as_at_once(feed, tmp_path, monkeypatch):
    in_parts(monkeypatch)
    mapped = map_feed(feed)
    name = load(tmp_path, mapped, loaded_on=LOADED_ON).feed_hash
    whole, _ = read_feed(tmp_path, name)
    lazily, _ = read_feed(tmp_path, name, at_once=False)
    assert len([*lazily.tables.rows("repairs")]) == 6
    for table, frame in mapped.tables.items():
        assert whole.tables[table].equals(frame)
        assert lazily.tables[table].equals(frame)


@pytest.mark.parametrize("cut", [0, 1, 2, 3])
def test_the_hash_of_rows_does_not_depend_on_how_they_are_parted(cut):
    frame = pl.DataFrame({"a": ["x", None, 'say "no"'], "row_no": [1, 2, 3]})
    assert rows_hash(Parts([frame.head(cut), frame.slice(cut)])) == frame_hash(frame)
    assert rows_hash(Parts([frame.clear()])) == frame_hash(frame.clear())


def test_asking_whether_a_table_is_there_reads_nothing(monkeypatch):
    tables = Tables({"repairs": Parts([pl.DataFrame({"a": [1]})])})
    monkeypatch.setattr(Tables, "__getitem__", None)
    assert "repairs" in tables
    assert "parts" not in tables
