"""One bit flipped anywhere in a data folder: the doctor reports it wherever it changes what a reader would see.

Places are drawn at random, as many in every file as `FLIPS` says (seed 20261125). A flip in a byte that the database
does not use is harmless; what a reader sees decides, not the byte.
"""

import random
import shutil

import duckdb
import pytest

from analytics.cli import main
from analytics.errors import WearLedgerError
from analytics.ledger import doctor, undo, withdraw
from analytics.ledger.connect import ledger_path, open_ledger, transaction
from analytics.ledger.feeds import feeds_dir, keep_feed
from analytics.ledger.journal import journal_path, note_loads, read_journal
from analytics.ledger.taking import Delivery, kept_as, take
from analytics.pipeline import analyse
from analytics.snapshot import TABLES, latest_path, open_snapshot, read_table
from tests.ledger.feeds import CAR, LOADED_ON, feed, job, put
from tests.ledger.killing import assert_good, image
from tests.thoroughness import tried

SEED = 20261125
FLIPS = {
    "ledger": tried(100, 30),
    "ledger beside its log": tried(20, 8),
    "log": tried(60, 16),
    "feed": tried(10, 3),
    "journal": tried(100, 24),
    "snapshot": tried(60, 16),
    "LATEST": tried(30, 10),
}
FLIPS_UNDER_COMMANDS = tried(6, 2)
COMMANDS = ["show vehicle", "history A", "export --to {}", "quarantine", "same", "doctor", "analyse"]


@pytest.fixture(scope="module")
def sound(tmp_path_factory):
    """Three loads, one undone, one line withdrawn, quarantined rows and a snapshot."""
    data = tmp_path_factory.mktemp("sound") / "data"
    put(data, vehicles=[CAR], repairs=[job(str(n), cost=str(n)) for n in range(300)])
    put(data, settings={"currency": "EUR"}, repairs=[job("1", cost="7"), job("4", odometer="x"), job("5", action="?")])
    put(data, repairs=[job("6", cost="8"), job("7", action="?")])
    undo(data, 2)
    analyse(data)
    withdraw(data, "9", reason="typed twice")
    assert_good(data)
    return data


@pytest.fixture(scope="module")
def with_log(sound, tmp_path_factory):
    """The same with one more load, which stands in the log only, as where the process is killed after committing."""
    data = shutil.copytree(sound, tmp_path_factory.mktemp("open") / "data")
    killed = tmp_path_factory.mktemp("log") / "data"
    mapped = feed(repairs=[job(str(n), note="logged") for n in range(900, 960)])
    with open_ledger(data, write=True) as connection:
        delivery = Delivery(mapped, kept_as(keep_feed(data, mapped, "").name), "", LOADED_ON, complete=False)
        with transaction(connection):
            take(connection, delivery, lambda _: None)
        note_loads(data, connection)
        shutil.copytree(data, killed)
    assert log_path(killed).stat().st_size > 1000
    assert image(killed)["repairs_revision"][0] == image(sound)["repairs_revision"][0] + 60
    assert_good(killed)
    return killed


def log_path(data):
    return ledger_path(data).with_suffix(".duckdb.wal")


def flipped(folder, path, count):
    """Flip one bit after the other in a file of the folder, yield the place of each, and flip it back."""
    # a snapshot's name changes with the program, the places drawn in it do not
    chance = random.Random(f"{SEED} {'snapshot' if path == latest_path(folder) else path.name}")
    content = path.read_bytes()
    aside = {other: other.read_bytes() for other in (ledger_path(folder), log_path(folder)) if other.exists()}
    for _ in range(count):
        place, bit = chance.randrange(len(content)), chance.randrange(8)
        path.write_bytes(content[:place] + bytes([content[place] ^ (1 << bit)]) + content[place + 1 :])
        yield f"{path.name}, byte {place}, bit {bit}"
        for other, before in aside.items():
            other.write_bytes(before)
        path.write_bytes(content)


def seen(read, *arguments, **named):
    """Return what a reader sees; an error told in a sentence is one of the things to see."""
    try:
        return read(*arguments, **named)
    except WearLedgerError as error:
        return error.what


def wrong(data):
    """Return what the doctor finds wrong; any error but a finding fails the test."""
    found = [finding for finding in doctor(data) if not finding.ok]
    assert not any("Traceback" in finding.says for finding in found)
    return found


def rows_of_snapshot(data):
    try:
        with open_snapshot(latest_path(data)) as connection:
            return [read_table(connection, name).rows() for name in TABLES]
    except (WearLedgerError, duckdb.Error) as error:
        return str(error)


@pytest.mark.parametrize(
    ("kind", "folder", "path"),
    [
        ("ledger", "sound", ledger_path),
        ("ledger beside its log", "with_log", ledger_path),
        ("log", "with_log", log_path),
    ],
)
def test_a_flip_in_ledger_or_log_is_found_wherever_it_changes_a_row(kind, folder, path, request, tmp_path):
    data = shutil.copytree(request.getfixturevalue(folder), tmp_path / "data")
    as_written = image(data, instants=True)
    found = 0
    for place in flipped(data, path(data), FLIPS[kind]):
        told = wrong(data)
        if seen(image, data, instants=True) != as_written:
            assert told, f"{place}: a reader sees another ledger, the doctor finds it well"
            found += 1
    assert found > FLIPS[kind] / 10
    assert_good(data)


def test_a_flip_in_a_kept_feed_is_always_found(sound, tmp_path):
    data = shutil.copytree(sound, tmp_path / "data")
    kept = [path for path in sorted(feeds_dir(data).glob("*/*")) if path.stat().st_size]
    assert len(kept) > 3
    for path in kept:
        for place in flipped(data, path, FLIPS["feed"]):
            assert {finding.kind for finding in wrong(data)} >= {"feeds"}, place


def test_a_flip_in_the_journal_is_found_wherever_it_changes_a_step(sound, tmp_path):
    data = shutil.copytree(sound, tmp_path / "data")
    as_written = read_journal(data)
    for place in flipped(data, journal_path(data), FLIPS["journal"]):
        told = wrong(data)
        if seen(read_journal, data) != as_written:
            assert told, place
    assert_good(data)


def test_a_flip_in_a_snapshot_is_found_wherever_it_changes_a_row(sound, tmp_path):
    data = shutil.copytree(sound, tmp_path / "data")
    as_written = rows_of_snapshot(data)
    found = 0
    for place in flipped(data, latest_path(data), FLIPS["snapshot"]):
        told = wrong(data)
        if rows_of_snapshot(data) != as_written:
            assert told, place
            found += 1
    assert found


def test_a_flip_in_the_name_of_the_newest_snapshot_is_found(sound, tmp_path):
    data = shutil.copytree(sound, tmp_path / "data")
    as_written = latest_path(data)
    for place in flipped(data, data / "snapshots" / "LATEST", FLIPS["LATEST"]):
        told = wrong(data)
        if seen(latest_path, data) != as_written:
            assert told, place


@pytest.mark.parametrize("path", [ledger_path, log_path, journal_path, latest_path], ids=lambda path: path.__name__)
def test_no_command_breaks_down_on_a_flip(path, with_log, tmp_path, capsys):
    data = shutil.copytree(with_log, tmp_path / "data")
    for place in flipped(data, path(data), FLIPS_UNDER_COMMANDS):
        for command in COMMANDS:
            assert main([*command.format(tmp_path / "to").split(), "--data", str(data)]) in (0, 1), place
            assert "Traceback" not in capsys.readouterr().err


@pytest.mark.parametrize("command", ["show vehicle", "history A", "export --to {}"])
def test_a_damaged_snapshot_is_told_in_a_sentence_until_it_is_written_anew(command, sound, tmp_path, capsys):
    data = shutil.copytree(sound, tmp_path / "data")
    words = [*command.format(tmp_path / "to").split(), "--data", str(data)]
    analyse(data)
    assert main(words) == 0
    path = latest_path(data)
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 4] + bytes(len(content) * 3 // 4))
    capsys.readouterr()
    assert main(words) == 1
    told = capsys.readouterr().err
    assert "cannot be read" in told
    assert "damaged" in told
    assert "next:  run: wearledger analyse" in told
    assert main(["analyse", "--data", str(data)]) == 0
    assert main(words) == 0
