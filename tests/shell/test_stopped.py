"""Ctrl-C at any instant of a command: a sentence, exit code 130, nothing half done, and the same command completes."""

import os
import random
import re
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analytics.cli import main
from tests.ledger.feeds import CAR, files_of, job
from tests.ledger.killing import assert_good, image
from tests.thoroughness import tried

pytestmark = pytest.mark.skipif(os.name == "nt", reason="a process gets Ctrl-C in another way there")

ROOT = Path(__file__).resolve().parents[2]
SEED = 20261125
INSTANTS = tried(10, 4)
NOT_FOR_PEOPLE = re.compile("Traceback|panicked|Exception ignored")

COMMAND = """
import sys
from analytics.cli import main
print("begun", flush=True)
sys.exit(main())
"""


def begun(*words):
    """Start a command; it has come so far that the program's own first line is next."""
    process = subprocess.Popen(
        [sys.executable, "-c", COMMAND, *map(str, words)],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        start_new_session=True,
    )
    assert process.stdout.readline() == "begun\n"
    return process


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A ledger of one load, and a second feed."""
    place = tmp_path_factory.mktemp("loaded")
    first = files_of(place / "first", vehicles=[CAR], repairs=[job(str(number)) for number in range(200)])
    second = files_of(place / "second", repairs=[job(str(number), cost="5") for number in range(100, 3000)])
    assert main(["load", str(first), "--data", str(place / "data")]) == 0
    return place / "data", second


def published(data):
    return sorted(path.name for path in (data / "snapshots").glob("*") if path.suffix != ".tmp")


def what_is_there(data):
    return image(data), published(data)


def stopped_after(seconds, *words):
    """Return exit code and stderr of a command that got Ctrl-C so long after it began."""
    process = begun(*words)
    time.sleep(seconds)
    process.send_signal(signal.SIGINT)
    told = process.communicate(timeout=120)[1]
    return process.returncode, told


@pytest.mark.parametrize("do", ["load", "analyse"])
def test_a_command_stopped_at_any_instant_says_so_and_leaves_nothing_half(do, loaded, tmp_path):
    before, feed = loaded
    words = ["load", feed] if do == "load" else ["analyse"]
    whole = shutil.copytree(before, tmp_path / "whole")
    began = time.monotonic()
    process = begun(*words, "--data", whole)
    process.communicate()
    took = time.monotonic() - began
    assert process.returncode == 0
    states = (what_is_there(before), what_is_there(whole))
    chance = random.Random(f"{SEED} {do}")
    codes = []
    # one in each part of the time the whole takes, the first at once
    for part in range(INSTANTS):
        data = shutil.copytree(before, tmp_path / f"{part}")
        seconds = (part + chance.random()) / INSTANTS * took if part else 0
        code, told = stopped_after(seconds, *words, "--data", data)
        assert not NOT_FOR_PEOPLE.search(told), told
        assert code in (0, 130), told
        assert code == 0 or told.splitlines()[-1].startswith("stopped"), told
        left = what_is_there(data)
        assert left in states or (do == "analyse" and left[0] == states[0][0] and "LATEST" not in left[1])
        assert code == 130 or left == states[1]
        assert main([*map(str, words), "--data", str(data)]) == 0
        assert what_is_there(data) == states[1]
        assert_good(data)
        codes.append(code)
    assert codes[0] == 130
    assert codes.count(130) > 1


def test_an_interruption_that_a_library_tells_as_its_own_error_is_still_one(tmp_path, monkeypatch, capsys):
    from analytics import cli, command_line
    from analytics.errors import LedgerError

    def interrupted(_):
        cli._asked.append(signal.SIGINT)
        raise LedgerError("the ledger could not answer: interrupted", where="here", next_step="nothing")

    monkeypatch.setattr(cli, "_asked", [])
    monkeypatch.setattr(command_line, "run", interrupted)
    assert main(["doctor", "--data", str(tmp_path)]) == 130
    told = capsys.readouterr().err
    assert told.startswith("stopped; nothing is half done")
    assert "refused" not in told


def test_a_fault_of_the_program_is_not_told_as_a_refusal(tmp_path, monkeypatch):
    from analytics import command_line

    def broken(_):
        raise ZeroDivisionError

    monkeypatch.setattr(command_line, "run", broken)
    with pytest.raises(ZeroDivisionError):
        main(["doctor", "--data", str(tmp_path)])
