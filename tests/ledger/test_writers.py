"""One writer at a time; a process killed at any moment leaves the ledger as it was before or as it is after."""

import os
import random
import re
import subprocess
import sys
import threading
import time
from importlib import import_module
from pathlib import Path

import pytest

from analytics.errors import LedgerError
from analytics.ledger import doctor, open_ledger, rebuild
from analytics.ledger.turn import Patience
from tests.ledger.feeds import ask, job, put

rebuild_module = import_module("analytics.ledger.rebuild")
ROOT = Path(__file__).resolve().parents[2]
KILLS = 6

HOLD = """
import sys
from pathlib import Path
from analytics.ledger import open_ledger
with open_ledger(Path(sys.argv[1]), write=sys.argv[2] == "write"):
    print("open", flush=True)
    sys.stdin.read()
"""

LOAD = """
import sys
from pathlib import Path
from analytics.ledger import load
from tests.ledger.feeds import LOADED_ON, feed, job
data, start = Path(sys.argv[1]), int(sys.argv[2])
print("ready", flush=True)
for number in range(start, start + 1000):
    orders = [job(f"{number}-{line}") for line in range(50)]
    load(data, feed(repairs=[*orders, job("changing", cost=str(number))]), loaded_on=LOADED_ON)
    print(number, flush=True)
"""


def run(script, *arguments):
    return subprocess.Popen(
        [sys.executable, "-c", script, *map(str, arguments)],
        cwd=ROOT,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )


@pytest.fixture
def holder(tmp_path):
    """Start processes that hold the ledger until the test is over."""
    put(tmp_path, repairs=[job()])
    started = []

    def hold(how):
        started.append(run(HOLD, tmp_path, how))
        assert started[-1].stdout.readline() == "open\n"
        return started[-1]

    yield hold
    for process in started:
        process.stdin.close()
        process.wait()
        process.stdout.close()


@pytest.mark.parametrize("write", [True, False])
def test_who_holds_the_ledger_is_told_after_the_wait(tmp_path, holder, write):
    process = holder("write")
    began = time.monotonic()
    said = []
    with (
        pytest.raises(LedgerError, match=rf"process {process.pid} \(-c, since [-0-9: ]+\) holds the ledger") as told,
        open_ledger(tmp_path, write=write, wait_seconds=0.3, waiting=said.append),
    ):
        pass
    assert len(said) == 1
    assert re.fullmatch(
        rf"process {process.pid} \(-c, since [-0-9: ]+\) uses the ledger; waiting for it, up to 0.3 s", said[0]
    )
    assert time.monotonic() - began >= 0.3
    assert "0.3 s" in told.value.what


def test_a_second_writer_says_that_it_waits_and_does_until_the_first_has_finished(tmp_path, holder, capsys):
    process = holder("write")
    threading.Timer(0.3, process.stdin.close).start()
    with open_ledger(tmp_path, write=True, wait_seconds=20) as connection:
        assert connection.sql("select count(*) from load").fetchall() == [(1,)]
    told = capsys.readouterr().err
    assert told.startswith(f"process {process.pid} (")
    assert told.endswith(") uses the ledger; waiting for it, up to 20 s\n")
    assert told.count("\n") == 1


def test_readers_do_not_hinder_each_other_but_a_writer(tmp_path, holder):
    process = holder("read")
    assert ask(tmp_path, "select count(*) from repairs") == [(1,)]
    with pytest.raises(LedgerError, match=f"process {process.pid}"), open_ledger(tmp_path, write=True, wait_seconds=0):
        pass


def test_a_held_ledger_is_not_built_again(tmp_path, holder, monkeypatch):
    process = holder("write")
    monkeypatch.setattr(rebuild_module, "Patience", lambda _, say: Patience(0, say))
    with pytest.raises(LedgerError, match=f"process {process.pid}"):
        rebuild(tmp_path)


def test_a_reader_within_the_same_process_waits_for_the_writer_too(tmp_path):
    put(tmp_path, repairs=[job()])
    with (
        open_ledger(tmp_path, write=True),
        pytest.raises(LedgerError, match="another task of this program"),
        open_ledger(tmp_path, write=False, wait_seconds=0),
    ):
        pass


def test_loads_of_two_threads_come_one_after_the_other(tmp_path):
    threads = [threading.Thread(target=put, args=(tmp_path,), kwargs={"repairs": [job(str(n))]}) for n in range(3)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert ask(tmp_path, "select count(*) from repairs") == [(3,)]
    assert ask(tmp_path, "select load_id from load order by all") == [(1,), (2,), (3,)]


@pytest.mark.skipif(os.name == "nt", reason="a process cannot be killed at once there")
def test_a_load_killed_at_any_moment_leaves_nothing_half(tmp_path):
    chance = random.Random(20261124)
    put(tmp_path)
    for kill in range(KILLS):
        process = run(LOAD, tmp_path, 1000 * kill)
        assert process.stdout.readline() == "ready\n"
        began = time.monotonic()
        first = process.stdout.readline()
        time.sleep(chance.uniform(0, 1.5) * (time.monotonic() - began))
        process.kill()
        finished = {*first.split(), *process.communicate()[0].split()}
        counted = dict(ask(tmp_path, "select split_part(record_id, '-', 1), count(*) from repairs group by all"))
        assert finished <= set(counted)
        assert {rows for record, rows in counted.items() if record.isdigit()} == {50}
    put(tmp_path, repairs=[job("after all")])
    told = doctor(tmp_path)
    assert all(finding.ok for finding in told), told
    assert sum("leftover" in finding.says for finding in told) <= KILLS
