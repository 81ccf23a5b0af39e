"""What an analysis is refused for, and what it is not: the sentence says what to do next."""

import datetime as dt

import duckdb
import polars as pl
import pytest

from analytics.errors import LedgerError
from analytics.ledger import doctor
from analytics.pipeline import analyse
from tests.ledger.feeds import LOADED_ON, job, put
from tests.snapshot_tables import table


def test_rows_that_all_wait_in_quarantine_are_told_with_what_to_do(tmp_path):
    report = put(tmp_path, repairs=[job("1", action="polished up"), job("2", reason="worn"), job("3", vehicle_id="B")])
    assert (report.can_be_analysed, report.waiting, report.next_step) == (False, 3, "wearledger quarantine")
    with pytest.raises(LedgerError, match="no dated record yet; 3 rows wait in quarantine") as told:
        analyse(tmp_path)
    assert told.value.next_step == "run: wearledger quarantine"
    report = put(tmp_path, repairs=[job("1")])
    assert (report.can_be_analysed, report.waiting, report.next_step) == (True, 2, "wearledger analyse")


def test_a_ledger_of_cars_alone_is_told_to_load_repairs(tmp_path):
    report = put(tmp_path)
    assert (report.can_be_analysed, report.waiting) == (False, 0)
    assert report.next_step.startswith("wearledger load FOLDER")
    with pytest.raises(LedgerError, match="no dated record yet\n"):
        analyse(tmp_path)


def test_rule_06_a_day_beyond_the_last_load_is_refused_and_one_up_to_it_is_not(tmp_path):
    put(tmp_path, repairs=[job()])
    with pytest.raises(LedgerError, match="the latest day in the ledger, of records and of loads, is 2026-11-24"):
        analyse(tmp_path, as_of=LOADED_ON + dt.timedelta(days=1))
    assert not (tmp_path / "snapshots").exists()
    assert analyse(tmp_path, as_of=LOADED_ON).as_of == LOADED_ON


def test_circles_of_part_numbers_and_places_are_counted_and_stop_nothing(tmp_path):
    parts = [
        {"part_no": name, "component": "hose", "superseded_by": by}
        for name, by in (("P1", "P2"), ("P2", "P3"), ("P3", "P1"), ("P4", "P1"), ("P5", None))
    ]
    places = [{"location": name, "parent": above} for name, above in (("x", "y"), ("y", "z"), ("z", "x"), ("w", None))]
    put(tmp_path, repairs=[job(part_no="P1", location="x")], parts=parts, locations=places)
    analyse(tmp_path)
    found = table(tmp_path, "data_quality").filter(pl.col("kind").str.contains("leads back"))
    assert found.select("kind", "count", "share", "example_record").rows() == [
        ("parent leads back to the same location", 3, 0.75, "location x"),
        ("superseded_by leads back to the same part_no", 3, 0.6, "part_no P1"),
    ]
    assert found["says"].str.contains("mend it: x, y, z|mend it: P1, P2, P3").all()


def test_a_damaged_snapshot_is_written_anew_by_the_same_analysis(tmp_path):
    put(tmp_path, repairs=[job()])
    first = analyse(tmp_path)
    content = bytearray(first.path.read_bytes())
    for place in range(len(content) // 3, len(content), 512):
        content[place] ^= 255
    first.path.write_bytes(content)
    told = [finding for finding in doctor(tmp_path) if not finding.ok]
    assert [finding.kind for finding in told] == ["snapshots"]
    assert "`wearledger analyse --as-of 2020-03-04`" in told[0].says
    again = analyse(tmp_path, as_of=dt.date(2020, 3, 4))
    assert (again.snapshot_id, again.already_known) == (first.snapshot_id, False)
    assert table(tmp_path, "record").height == 1
    assert all(finding.ok for finding in doctor(tmp_path))


def test_an_error_of_the_database_in_an_analysis_is_a_sentence(tmp_path, monkeypatch):
    put(tmp_path, repairs=[job()])

    def fails(*_):
        raise duckdb.IOException("a block is not as written")

    monkeypatch.setattr("analytics.pipeline.compute", fails)
    with pytest.raises(LedgerError, match=r"cannot be read: a block[\s\S]*wearledger doctor"):
        analyse(tmp_path)
