"""A dry run asks the ledger what a load would do, and writes nothing."""

import pytest

from analytics.cli import main
from tests.records.feeds import feed

CARS = "vehicle_id,series,built_on\ncar1,S1,1962\n"
JOBS = "record_id,vehicle_id,closed_on,action,finding\n1,car1,2020-01-02,replaced,torn\n2,car1,2020-02-03,replaced,\n"
LATER = JOBS.replace("torn", "worn") + "3,car1,2020-03-04,repaired,\n4,car9,2020-03-04,repaired,\n5,car1,soon,,\n"


def said(capsys, *words):
    capsys.readouterr()
    assert main([str(word) for word in words]) == 0
    return capsys.readouterr().out


def content(folder):
    return {path: path.read_bytes() for path in sorted(folder.rglob("*")) if path.is_file() and path.suffix != ".lock"}


@pytest.fixture
def data(tmp_path, capsys):
    folder = tmp_path / "first"
    folder.mkdir()
    said(capsys, "load", feed(folder, vehicles=CARS, repairs=JOBS), "--data", tmp_path / "data")
    return tmp_path / "data"


def test_it_counts_as_the_load_then_does_and_changes_no_byte(data, tmp_path, capsys):
    before = content(data)
    told = said(capsys, "load", feed(tmp_path, repairs=LATER) / "repairs.csv", "--dry-run", "--data", data)
    assert "new 1, unchanged 1, revised 1, to quarantine 2, values set aside 0" in told
    assert "to quarantine: 1 x vehicle_id, first in repairs.csv, row 4: car9 is no known car" in told
    assert "not in this feed's vehicles" not in told
    assert content(data) == before
    assert "5 rows read: 1 new, 1 unchanged, 1 revised, 2 quarantined" in said(
        capsys, "load", tmp_path / "repairs.csv", "--data", data
    )
    again = said(capsys, "load", tmp_path / "repairs.csv", "--dry-run", "--data", data)
    assert "new 0, unchanged 3, revised 0, to quarantine 2 (2 of them known there)" in again


def test_without_a_ledger_it_counts_as_a_first_load_does(tmp_path, capsys):
    told = said(capsys, "load", feed(tmp_path, repairs=JOBS), "--dry-run", "--data", tmp_path / "data")
    assert "new 0, unchanged 0, revised 0, to quarantine 2" in told
    assert not (tmp_path / "data").exists()


def test_it_says_which_waiting_rows_would_be_mended(data, tmp_path, capsys):
    said(capsys, "load", feed(tmp_path, repairs=LATER) / "repairs.csv", "--data", data)
    feed(tmp_path, repairs=LATER.replace("soon", "2020-05-06"))
    told = said(capsys, "load", tmp_path / "repairs.csv", "--dry-run", "--data", data)
    assert "1 row(s) that wait in quarantine would be mended" in told


def test_a_foreign_file_beside_a_native_one_gets_a_proposal_that_reads_both(tmp_path, capsys):
    folder = tmp_path / "export"
    folder.mkdir()
    feed(folder, vehicles=CARS, jobs="Job No;Car;Date out;Complaint\n1;car1;23.04.1999;leaks\n")
    told = said(capsys, "load", folder, "--dry-run", "--data", tmp_path / "data")
    assert "jobs.csv: named after no native table; a mapping that reads all files of the feed:" in told
    mapping = tmp_path / "export.mapping.toml"
    assert f"written to {mapping}" in told
    first, _, second = told.partition("Read with this mapping:")
    assert "vehicles: 1 row(s)" in first
    assert "repairs: 1 row(s) from jobs.csv (1)" in second
    assert "2 rows read: 2 new" in said(capsys, "load", folder, "--mapping", mapping, "--data", tmp_path / "data")
