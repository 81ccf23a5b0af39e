"""An archive that was touched, or made to do harm, is refused, and nothing is put in place."""

import json
import random
import shutil
import stat
import sys
import zipfile
from pathlib import Path

import pytest

from analytics.errors import LedgerError, OutputError
from analytics.ledger import backup, restore
from analytics.ledger.archive import SEAL
from analytics.ledger.backup import _seal
from analytics.ledger.schema import SCHEMA_VERSION
from tests.ledger.feeds import job, put


@pytest.fixture(scope="module")
def whole(tmp_path_factory):
    """Return a backup of a small data folder."""
    folder = tmp_path_factory.mktemp("whole")
    put(folder / "data", repairs=[job()])
    (folder / "data" / "snapshots").mkdir()
    (folder / "data" / "snapshots" / "LATEST").write_text("2020-03-04-00000000\n")
    backup(folder / "data", folder / "copy.zip")
    return folder / "copy.zip"


@pytest.fixture
def archive(whole, tmp_path):
    """Return a copy of it."""
    return shutil.copy(whole, tmp_path / "copy.zip")


def crafted(archive, target, *, change=None, add=None, manifest=None):
    """Write an archive like another one, sealed, with something changed on the way."""
    with zipfile.ZipFile(archive) as old, zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as new:
        for entry in old.infolist():
            content = old.read(entry)
            if entry.filename == "manifest.json" and manifest:
                told = json.loads(content)
                manifest(told)
                content = json.dumps(told).encode()
            elif change and entry.filename == change[0]:
                content = change[1](content)
            new.writestr(entry, content)
        if add:
            new.writestr(*add)
        new.comment = b"0" * SEAL
    _seal(target)
    return target


def test_one_flipped_bit_anywhere_is_refused_and_nothing_is_put_in_place(archive, tmp_path):
    content = archive.read_bytes()
    chance = random.Random(5)
    places = {0, len(content) - 1, *(chance.randrange(len(content)) for _ in range(60))}
    flipped_file = tmp_path / "flipped.zip"
    for place in sorted(places):
        flipped = bytearray(content)
        flipped[place] ^= 1 << chance.randrange(8)
        flipped_file.write_bytes(flipped)
        with pytest.raises(LedgerError, match="nothing was put in place"):
            restore(tmp_path / "new", flipped_file)
    for length in (0, 10, SEAL, len(content) // 2, len(content) - 1):
        flipped_file.write_bytes(content[:length])
        with pytest.raises(LedgerError, match="nothing was put in place"):
            restore(tmp_path / "new", flipped_file)
    assert not (tmp_path / "new").exists()
    restore(tmp_path / "new", archive)


def link(name):
    entry = zipfile.ZipInfo(name)
    entry.external_attr = (stat.S_IFLNK | 0o777) << 16
    return entry


def named(name):
    def add(told):
        told["files"].append({"name": name, "size": 1, "sha256": "0" * 64})

    return add


@pytest.mark.parametrize(
    "tricks",
    [
        {"add": ("../outside", b"x"), "manifest": named("../outside")},
        {"add": ("/tmp/outside", b"x"), "manifest": named("/tmp/outside")},
        {"add": ("feeds/../../outside", b"x"), "manifest": named("feeds/../../outside")},
        {"add": ("C:\\outside", b"x"), "manifest": named("C:\\outside")},
        {"add": ("snapshots/sub/x.duckdb", b"x"), "manifest": named("snapshots/sub/x.duckdb")},
        {"add": (link("private/key"), b"x"), "manifest": named("private/key")},
        {"add": ("snapshots/2020-01-01-aa.duckdb", b"x")},
        {"manifest": named("snapshots/2020-01-01-aa.duckdb")},
        {"manifest": lambda told: told["files"].pop()},
        {"manifest": lambda told: told["files"][0].update(size=10**15)},
        {"manifest": lambda told: told["files"][0].update(size="many")},
        {"manifest": lambda told: told.pop("files")},
        {"manifest": lambda told: told.pop("format")},
        {"change": ("ledger.duckdb", lambda content: content + b"x")},
        {"change": ("feeds/journal.jsonl", lambda content: content.replace(b"load", b"daol", 1))},
    ],
)
def test_an_archive_made_to_do_harm_is_refused(archive, tmp_path, tricks):
    evil = crafted(archive, tmp_path / "evil.zip", **tricks)
    with pytest.raises(LedgerError, match="nothing was put in place"):
        restore(tmp_path / "new", evil)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["copy.zip", "evil.zip"]
    assert not Path("/tmp/outside").exists()


@pytest.mark.parametrize("field", ["format", "schema"])
def test_an_unknown_version_is_refused_with_its_name(archive, tmp_path, field):
    later = crafted(archive, tmp_path / "later.zip", manifest=lambda told: told.update({field: 99, "version": "9.9"}))
    with pytest.raises(LedgerError, match="99") as told:
        restore(tmp_path / "new", later)
    assert "wearledger 9.9" in told.value.next_step


def test_a_backup_of_an_earlier_ledger_comes_back_and_says_what_to_do(archive, tmp_path, monkeypatch):
    monkeypatch.setattr(sys.modules["analytics.ledger.restore"], "SCHEMA_VERSION", SCHEMA_VERSION + 1)
    monkeypatch.setattr(sys.modules["analytics.ledger.connect"], "SCHEMA_VERSION", SCHEMA_VERSION + 1)
    restore(tmp_path / "new", archive)
    with pytest.raises(LedgerError, match="schema") as told:
        put(tmp_path / "new", repairs=[job()])
    assert "rebuild" in told.value.next_step


def test_more_bytes_than_are_told_are_not_unpacked(archive, tmp_path):
    """Both the manifest and the archive's own list may lie; unpacking stops at the size they told."""
    bomb = crafted(archive, tmp_path / "bomb.zip", change=("snapshots/LATEST", lambda _: b"0" * 200_000_000))
    content = bytearray(bomb.read_bytes())
    size = (200_000_000).to_bytes(4, "little")
    true = len("2020-03-04-00000000\n").to_bytes(4, "little")
    bomb.write_bytes(content.replace(size, true))
    _seal(bomb)
    with pytest.raises(LedgerError, match="nothing was put in place"):
        restore(tmp_path / "new", bomb)
    assert not (tmp_path / "new").exists()


def test_a_backup_for_which_there_is_no_room_is_refused(archive, tmp_path, monkeypatch):
    full = shutil.disk_usage(tmp_path)._replace(free=1000)
    monkeypatch.setattr(shutil, "disk_usage", lambda _: full)
    with pytest.raises(OutputError, match="make room"):
        restore(tmp_path / "new", archive)
