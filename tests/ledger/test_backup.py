"""A backup comes back byte for byte, anywhere; one that was touched, or made to do harm, does not come back at all."""

import os
import random
import shutil
import stat
import subprocess
import sys
import time
from pathlib import Path

import duckdb
import pytest

from analytics.cli import main
from analytics.errors import LedgerError, OutputError
from analytics.ledger import backup, doctor, load, open_ledger, restore, undo
from analytics.ledger.archive import whole_hash
from analytics.ledger.backup import _seal
from analytics.ledger.private_key import key_path
from analytics.ledger.turn import lock_path
from analytics.pipeline import analyse
from tests.ledger.feeds import CAR, LOADED_ON, feed, job, put

ROOT = Path(__file__).resolve().parents[2]
FEED = feed(source="shop", settings={"vehicle_id": "keyed hash"}, vehicles=[CAR], repairs=[job(note="n")])
MAPPING = 'source = "shop"\n'

BACKUP = """
import sys
from pathlib import Path
from analytics.ledger import backup
print("ready", flush=True)
backup(Path(sys.argv[1]), Path(sys.argv[2]))
"""
RESTORE = """
import sys
from pathlib import Path
from analytics.ledger import restore
print("ready", flush=True)
restore(Path(sys.argv[1]), Path(sys.argv[2]))
"""
OPEN = """
import sys
from pathlib import Path
from analytics.ledger import open_ledger
with open_ledger(Path(sys.argv[1]), write=True, wait_seconds=0):
    pass
"""
BACKUP_AT_ONCE = """
import sys
from functools import partial
from pathlib import Path
from analytics.ledger import backup
module = sys.modules["analytics.ledger.backup"]
module.open_ledger = partial(module.open_ledger, wait_seconds=0)
backup(Path(sys.argv[1]), Path(sys.argv[2]))
"""


@pytest.fixture(scope="module")
def filled(tmp_path_factory):
    """Return a data folder with loads, one of them undone, quarantine, a key and a snapshot."""
    folder = tmp_path_factory.mktemp("filled") / "data"
    load(folder, FEED, loaded_on=LOADED_ON, mapping_text=MAPPING)
    put(folder, repairs=[job("18", vehicle_id="Z")])
    put(folder, vehicles=[{"vehicle_id": "B", "series": "second"}], repairs=[job("19", vehicle_id="B")])
    undo(folder, 2)
    analyse(folder)
    return folder


@pytest.fixture
def data(filled, tmp_path):
    """Return a copy of it."""
    return shutil.copytree(filled, tmp_path / "data")


def files_of(folder):
    files = [path for path in folder.rglob("*") if path.is_file() and path != lock_path(folder)]
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in files}


def tables_of(folder):
    """Return every row of every table of ledger and snapshots."""
    rows = {}
    for path in sorted(folder.rglob("*.duckdb")):
        with duckdb.connect(str(path), read_only=True) as connection:
            for (name,) in connection.sql("select table_name from duckdb_tables()").fetchall():
                rows[path.relative_to(folder).as_posix(), name] = connection.sql(
                    f'select * from "{name}" order by all'
                ).fetchall()
    return rows


def test_a_backup_comes_back_whole_anywhere(data, tmp_path):
    held = files_of(data)
    rows = tables_of(data)
    (data / "ledger.before-rebuild.duckdb").write_text("old")
    (data / "demo").mkdir()
    (data / "demo" / "x.csv").write_text("x")
    archive, there = tmp_path / "copy.zip", tmp_path / "elsewhere" / "deep"
    told = backup(data, archive, with_key=True)
    moved = tmp_path / "moved.zip"
    shutil.move(archive, moved)
    shutil.rmtree(data)
    assert restore(there, moved) == told.files
    assert files_of(there) == held
    assert tables_of(there) == rows
    assert all(finding.ok for finding in doctor(there))
    assert analyse(there).already_known
    assert load(there, FEED, loaded_on=LOADED_ON, mapping_text=MAPPING).already_known
    assert str(tmp_path) not in moved.read_bytes().decode("latin-1")


def test_the_key_stays_behind_unless_asked_for_and_is_for_its_owner_only(data, tmp_path):
    assert backup(data, tmp_path / "without.zip").key_left_out
    assert not backup(data, tmp_path / "with.zip", with_key=True).key_left_out
    restore(tmp_path / "a", tmp_path / "without.zip")
    restore(tmp_path / "b", tmp_path / "with.zip")
    assert not key_path(tmp_path / "a").exists()
    assert key_path(tmp_path / "b").read_bytes() == key_path(data).read_bytes()
    if os.name != "nt":
        assert stat.S_IMODE(key_path(tmp_path / "b").stat().st_mode) == 0o600
        assert stat.S_IMODE((tmp_path / "with.zip").stat().st_mode) == 0o600
    assert [finding.kind for finding in doctor(tmp_path / "a") if not finding.ok] == ["key"]
    with pytest.raises(LedgerError, match="the key that hides vehicle ids is not here"):
        load(tmp_path / "a", FEED, loaded_on=LOADED_ON)


def test_the_commands_say_what_they_did(data, tmp_path, capsys):
    archive, there = str(tmp_path / "copy.zip"), str(tmp_path / "new")
    assert main(["backup", "--to", archive, "--data", str(data)]) == 0
    told = capsys.readouterr()
    assert "written to" in told.out
    assert "the private key was left out" in told.err
    assert main(["restore", archive, "--data", there]) == 0
    assert "put back into" in capsys.readouterr().out
    for words in (["restore", archive], ["restore", f"{archive}x"], ["backup", "--to", f"{there}/no/such/copy.zip"]):
        assert main([*words, "--data", there]) == 1
        told = capsys.readouterr().err
        assert "refused: " in told
        assert "next:" in told


def test_nothing_is_overwritten(data, tmp_path):
    archive = tmp_path / "copy.zip"
    archive.write_text("mine")
    with pytest.raises(OutputError, match="is there already"):
        backup(data, archive)
    assert archive.read_text() == "mine"
    with pytest.raises(OutputError, match="within the data folder"):
        backup(data, data / "feeds" / "copy.zip")
    archive.unlink()
    backup(data, archive)
    before = files_of(data)
    with pytest.raises(OutputError, match="not empty"):
        restore(data, archive)
    assert files_of(data) == before
    (tmp_path / "empty").mkdir()
    restore(tmp_path / "empty", archive)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.zip", "data", "empty"]


def test_without_a_ledger_there_is_nothing_to_save(tmp_path):
    with pytest.raises(LedgerError, match="no ledger yet"):
        backup(tmp_path / "data", tmp_path / "copy.zip")
    assert not list(tmp_path.iterdir())


def test_the_same_data_gives_the_same_archive(data, tmp_path):
    backup(data, tmp_path / "a.zip")
    backup(data, tmp_path / "b.zip")
    assert (tmp_path / "a.zip").read_bytes() == (tmp_path / "b.zip").read_bytes()


def test_nobody_writes_while_the_backup_is_made(data, tmp_path, monkeypatch):
    module = sys.modules["analytics.ledger.backup"]
    tried = []

    def sealing(path):
        tried.append(in_another_process(OPEN, data))
        _seal(path)

    monkeypatch.setattr(module, "_seal", sealing)
    backup(data, tmp_path / "copy.zip")
    assert "holds the ledger" in tried[0]


def test_a_ledger_that_another_process_writes_to_is_not_copied(data, tmp_path):
    with open_ledger(data, write=True):
        assert "holds the ledger" in in_another_process(BACKUP_AT_ONCE, data, tmp_path / "late.zip")
    assert not list(tmp_path.glob("*late*"))


def in_another_process(script, *words):
    """Return what the script says of what it was refused."""
    told = subprocess.run(
        [sys.executable, "-c", script, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False
    )
    return told.stderr


@pytest.mark.skipif(os.name == "nt", reason="a process cannot be killed at once there")
def test_killed_half_way_nothing_half_is_left(data, tmp_path):
    chance = random.Random(3)
    archive = tmp_path / "whole.zip"
    backup(data, archive)
    for script, words, name in ((BACKUP, (data,), "copy.zip"), (RESTORE, (), "new")):
        for _ in range(4):
            target = tmp_path / name
            arguments = [*words, target] if words else [target, archive]
            process = subprocess.Popen(
                [sys.executable, "-c", script, *map(str, arguments)], cwd=ROOT, stdout=subprocess.PIPE, text=True
            )
            assert process.stdout.readline() == "ready\n"
            time.sleep(chance.uniform(0, 0.08))
            process.kill()
            process.communicate()
            if target.is_file():
                with target.open("rb") as file:
                    assert len({*whole_hash(file)}) == 1
                target.unlink()
            elif target.exists():
                assert {finding.kind for finding in doctor(target) if not finding.ok} <= {"key"}
                shutil.rmtree(target)
    backup(data, tmp_path / "copy.zip")
    restore(tmp_path / "new", archive)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.zip", "data", "new", "whole.zip"]
    assert all(finding.ok for finding in doctor(data))
