"""Several processes at one data folder: one writes, the others wait, are told who it is, or read on."""

import json
import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analytics.errors import LedgerError
from analytics.ledger import doctor, open_ledger
from analytics.ledger.turn import Patience, lock_path, turn
from tests.ledger.feeds import CAR, ask, job, put, rows_of
from tests.thoroughness import tried

pytestmark = pytest.mark.skipif(os.name == "nt", reason="the lock of writers is that of systems like Linux")

ROOT = Path(__file__).resolve().parents[2]
READERS = 10
PAGES = 3
LOADS = tried(5, 2)

COMMAND = "import sys; from analytics.cli import main; sys.exit(main())"

HOLD = """
import sys
from pathlib import Path
from analytics.ledger.turn import name_command, turn
from analytics.ledger import open_ledger
name_command("wearledger load")
with open_ledger(Path(sys.argv[1]), write=True):
    print("open", flush=True)
    sys.stdin.read()
"""

READ = """
import contextlib, io, logging, os, sys, time
from pathlib import Path
from analytics.cli import main
from analytics.ledger import open_ledger
folder, stop = Path(sys.argv[1]), Path(sys.argv[2])
os.environ["WEARLEDGER_DATA"] = str(folder)
if sys.argv[3] == "pages":
    logging.disable(logging.WARNING)  # the pages' library misses its server
    from dashboards import data
print("ready", flush=True)
rounds, loads, snapshots = 0, set(), set()
while not stop.exists():
    with contextlib.redirect_stdout(io.StringIO()) as told:
        assert main(["show", "vehicle", "--data", str(folder)]) == 0
        assert main(["history", "A", "--data", str(folder)]) == 0
    with open_ledger(folder, write=False, waiting=lambda told: None) as connection:
        loads.add(connection.sql("select count(*) from load").fetchall()[0][0])
    snapshots.add((folder / "snapshots" / "LATEST").read_text())
    if sys.argv[3] == "pages":
        assert data.current().rows("record").height
    rounds += 1
    time.sleep(0.5)
print(rounds, len(loads), len(snapshots), flush=True)
"""


def start(script, *arguments, **named):
    return subprocess.Popen(
        [sys.executable, "-W", "ignore", "-c", script, *map(str, arguments)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        **named,
    )


def command(*words):
    return subprocess.run(
        [sys.executable, "-c", COMMAND, *map(str, words)], cwd=ROOT, capture_output=True, text=True, check=False
    )


@pytest.fixture
def held(tmp_path):
    data = tmp_path / "data"
    put(data, repairs=[job()])
    process = start(HOLD, data)
    assert process.stdout.readline() == "open\n"
    yield data, process
    process.stdin.close()
    process.wait()
    process.stdout.close()


def refused(data, *, write=True):
    with (
        pytest.raises(LedgerError) as told,
        open_ledger(data, write=write, wait_seconds=0, waiting=lambda _: None),
    ):
        pass
    return told.value.what


@pytest.mark.parametrize("write", [True, False])
def test_process_command_and_instant_of_who_holds_the_ledger_are_told(held, write):
    data, process = held
    note = json.loads(lock_path(data).read_text())
    assert note["process"] == process.pid
    told = refused(data, write=write)
    assert told.startswith(f"process {process.pid} (wearledger load, since {note['since']}) holds the ledger")


def test_a_holder_that_was_killed_blocks_nobody(held):
    data, process = held
    process.kill()
    process.wait()
    put(data, repairs=[job("18")])
    assert ask(data, "select count(*) from repairs") == [(2,)]
    assert lock_path(data).read_bytes() == b""


def test_the_note_of_a_killed_holder_is_not_told_of_another_one(held):
    data, process = held
    process.kill()
    process.wait()
    # who took the lock after it, and could not write its note
    with turn(data):
        lock_path(data).write_text("")
        told = []
        script = (
            "import sys; from pathlib import Path; from analytics.ledger.turn import holder;"
            " print(holder(Path(sys.argv[1])))"
        )
        told.append(start(script, data).communicate()[0])
    assert told == ["another process\n"]


def test_who_reads_is_told_to_a_writer_that_waits_for_it(tmp_path):
    put(tmp_path, repairs=[job()])
    reading = start(HOLD.replace("write=True", "write=False"), tmp_path)
    assert reading.stdout.readline() == "open\n"
    told = refused(tmp_path)
    reading.communicate("")
    assert told.startswith(f"process {reading.pid} (")
    assert ", since 20" in told or not Path("/proc").exists()


def test_a_turn_within_a_turn_of_the_same_thread_is_no_harm(tmp_path):
    put(tmp_path, repairs=[job()])
    with turn(tmp_path), turn(tmp_path, Patience(0)), open_ledger(tmp_path, write=True, wait_seconds=0) as connection:
        assert connection.sql("select count(*) from load").fetchall() == [(1,)]


def test_a_ledger_that_is_built_again_takes_no_load_meanwhile(tmp_path):
    """What was loaded while the kept feeds are replayed would not be in the new ledger."""
    put(tmp_path, repairs=[job()])
    building = start(
        "import sys, time\nfrom pathlib import Path\nfrom analytics.ledger import rebuild\n"
        "def say(step):\n    print(step, flush=True)\n    sys.stdin.readline()\n"
        "rebuild(Path(sys.argv[1]), progress=say)\n",
        tmp_path,
    )
    assert building.stdout.readline() == "load 1\n"
    assert f"process {building.pid}" in refused(tmp_path)
    building.communicate("\n")
    put(tmp_path, repairs=[job("18")])
    assert ask(tmp_path, "select count(*) from repairs") == [(2,)]
    assert all(finding.ok for finding in doctor(tmp_path))


def test_ten_readers_go_on_during_loads_and_analyses(tmp_path):
    data, stop = tmp_path / "data", tmp_path / "stop"
    orders = [job(str(number), cost="1") for number in range(500)]
    for number in range(LOADS + 1):
        feed = tmp_path / f"feed-{number}"
        feed.mkdir()
        some = [job(f"{number}-{line}") for line in range(500)]
        rows_of("repairs", [*orders, *some]).drop("file", "row_no").write_csv(feed / "repairs.csv")
        rows_of("vehicles", [CAR]).drop("file", "row_no").write_csv(feed / "vehicles.csv")
    for first in (["load", tmp_path / "feed-0"], ["analyse"]):
        assert command(*first, "--data", data).returncode == 0
    kinds = ["pages" if number < PAGES else "commands" for number in range(READERS)]
    readers = [start(READ, data, stop, kind, stderr=subprocess.PIPE) for kind in kinds]
    try:
        assert [reader.stdout.readline() for reader in readers] == ["ready\n"] * READERS
        for number in range(1, LOADS + 1):
            done = command("load", tmp_path / f"feed-{number}", "--data", data)
            assert done.returncode == 0, done.stderr
            if number in (1, LOADS):
                done = command("analyse", "--data", data)
                assert done.returncode == 0, done.stderr
    finally:
        stop.touch()
        told = [reader.communicate(timeout=120) for reader in readers]
    assert [reader.returncode for reader in readers] == [0] * READERS, [error for _, error in told]
    assert [error for _, error in told] == [""] * READERS
    rounds, loads, snapshots = zip(*(map(int, answer.split()) for answer, _ in told), strict=True)
    assert min(rounds) > 1
    assert max(loads) > 1
    assert max(snapshots) > 1


def test_a_writer_gets_its_turn_among_readers_that_never_pause(tmp_path):
    put(tmp_path, repairs=[job()])
    script = (
        "import sys\nfrom pathlib import Path\nfrom analytics.ledger import open_ledger\n"
        "data, stop = Path(sys.argv[1]), Path(sys.argv[2])\nprint('ready', flush=True)\n"
        "while not stop.exists():\n"
        "    with open_ledger(data, write=False, waiting=lambda told: None) as connection:\n"
        "        connection.sql('select count(*) from load').fetchall()\n"
    )
    stop = tmp_path / "stop"
    readers = [start(script, tmp_path, stop, stderr=subprocess.PIPE) for _ in range(4)]
    try:
        assert [reader.stdout.readline() for reader in readers] == ["ready\n"] * 4
        began = time.monotonic()
        for number in range(3):
            put(tmp_path, repairs=[job(f"new-{number}")])
        assert time.monotonic() - began < 30
    finally:
        stop.touch()
        told = [reader.communicate(timeout=60) for reader in readers]
    assert [reader.returncode for reader in readers] == [0] * 4, told


def test_a_reader_that_is_stopped_lets_go(tmp_path):
    put(tmp_path, repairs=[job()])
    reading = start(HOLD.replace("write=True", "write=False"), tmp_path)
    assert reading.stdout.readline() == "open\n"
    reading.send_signal(signal.SIGKILL)
    reading.communicate()
    put(tmp_path, repairs=[job("18")])
    assert ask(tmp_path, "select count(*) from repairs") == [(2,)]
