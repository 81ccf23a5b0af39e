"""A forget that is stopped at any moment leaves the old state, or one that the same command finishes."""

import os
import random
import shutil
import subprocess
import sys
import time
from pathlib import Path

import pytest

from analytics.errors import LedgerError
from analytics.ledger import forget as forget_car
from analytics.ledger import rebuild
from analytics.ledger.answers import ledger_hash
from analytics.pipeline import analyse
from tests.ledger.feeds import job, put, tell
from tests.ledger.forgotten import CAR, assert_good, fill, traces
from tests.thoroughness import tried

ROOT = Path(__file__).resolve().parents[2]

KILLS = tried(5, 3)
STEP = tried(1, 3)
"""Of the changes of a name, one in so many is where a forget stops."""

FORGET = """
import sys
from pathlib import Path
from analytics.ledger import forget
print("ready", flush=True)
forget(Path(sys.argv[1]), sys.argv[2])
print("done", flush=True)
"""


def test_other_commands_are_refused_while_a_stopped_forget_waits_to_be_finished(tmp_path, monkeypatch):
    fill(tmp_path)
    analyse(tmp_path)
    module = sys.modules["analytics.ledger.forget"]
    whole = module.finish
    calls = []

    def stopped(data_dir):
        calls.append(data_dir)
        if len(calls) > 1:
            raise KeyboardInterrupt
        return whole(data_dir)

    monkeypatch.setattr(module, "finish", stopped)
    with pytest.raises(KeyboardInterrupt):
        forget_car(tmp_path, CAR)
    monkeypatch.undo()
    for again in (lambda: put(tmp_path, repairs=[job("late")]), lambda: analyse(tmp_path), lambda: rebuild(tmp_path)):
        with pytest.raises(LedgerError, match="a car is being forgotten"):
            again()
    told = forget_car(tmp_path, CAR)
    assert told.finished
    assert not told.rows
    assert traces(tmp_path) == []
    assert_good(tmp_path)


class KilledError(BaseException):
    """Stands for a kill: nothing catches it."""


def killed_at(step, data, patch):
    """Let every change of a name within a data folder after so many end the process."""
    left = [step]

    def counting(real):
        def acting(self, *words, **named):
            if data in self.parents:
                left[0] -= 1
                if left[0] < 0:
                    raise KilledError
            return real(self, *words, **named)

        return acting

    for name in ("replace", "unlink"):
        patch.setattr(Path, name, counting(getattr(Path, name)))


def stops(data, car):
    """Yield the state after steps of putting things in place, as a kill would leave it, the last one whole."""
    for step in range(0, 60, STEP):
        copy = data.with_name(f"{data.name}-{step}")
        shutil.copytree(data, copy)
        with pytest.MonkeyPatch.context() as patch:
            killed_at(step, copy, patch)
            try:
                forget_car(copy, car)
            except KilledError:
                whole = False
            else:
                whole = True
        yield copy
        if whole:
            return
    pytest.fail("it takes more steps than that")


def test_a_stop_after_any_step_leaves_the_old_state_or_one_that_can_be_finished(tmp_path):
    data = tmp_path / "data"
    fill(data)
    analyse(data)
    old = tell(data, ledger_hash)
    seen = 0
    for copy in stops(data, CAR):
        seen += 1
        if not (copy / "forgetting" / "ready.json").exists() and traces(copy):
            assert tell(copy, ledger_hash) == old
            assert_good(copy)
        if traces(copy) or (copy / "forgetting" / "ready.json").exists():
            forget_car(copy, CAR)
        assert traces(copy) == []
        assert_good(copy)
    assert seen > 8 / STEP


@pytest.mark.skipif(os.name == "nt", reason="a process cannot be killed at once there")
def test_killed_at_any_moment_it_can_be_run_again(tmp_path):
    chance = random.Random(77)
    data = tmp_path / "data"
    fill(data)
    analyse(data)
    took = 0.0
    for kill in range(KILLS):
        copy = tmp_path / f"kill-{kill}"
        shutil.copytree(data, copy)
        process = subprocess.Popen(
            [sys.executable, "-c", FORGET, str(copy), CAR], cwd=ROOT, stdout=subprocess.PIPE, text=True
        )
        assert process.stdout.readline() == "ready\n"
        began = time.monotonic()
        if kill:
            time.sleep(chance.uniform(0.1, 1.0) * took)
            process.kill()
        process.communicate()
        took = took or time.monotonic() - began
        if traces(copy) or (copy / "forgetting" / "ready.json").exists():
            forget_car(copy, CAR)
        assert traces(copy) == []
        assert_good(copy)
