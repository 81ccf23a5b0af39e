"""A process that has everything imported and forks a child for each piece of work, to be killed or let finish.

Run as ``python -m tests.ledger.warm_worker``; it reads one JSON object a line and answers with one. See `killing`.
"""

from __future__ import annotations

import json
import os
import signal
import sys
import time
from pathlib import Path

import duckdb  # noqa: F401 - imported before the fork
import polars  # noqa: F401 - imported before the fork, and never used here: its threads would not survive it
import pyarrow  # noqa: F401 - imported before the fork

from analytics import pipeline
from analytics.export import export_tables
from analytics.ledger import apart, backup, forget, load, rebuild, restore, same, undo, withdraw
from analytics.records import map_feed
from analytics.snapshot import latest_path
from tests.ledger.feeds import LOADED_ON

CHANGES_FILES = {"open", "os.mkdir", "os.remove", "os.rename", "os.rmdir", "os.link", "os.truncate", "duckdb"}
"""What a process says to its audit hooks before it touches a file."""

LOOK_AGAIN_SECONDS = 0.0005

WORK = {
    "load": lambda data, feed: load(data, map_feed(Path(feed)), loaded_on=LOADED_ON).load_id,
    "analyse": lambda data: pipeline.analyse(data).snapshot_id,
    "rebuild": rebuild,
    "undo": lambda data, number: sorted(undo(data, number).items()),
    "withdraw": lambda data, name: withdraw(data, name, reason="typed twice"),
    "same": same,
    "apart": apart,
    "forget": lambda data, car: forget(data, car).rows,
    "backup": lambda data, target: backup(data, Path(target)).files,
    "restore": lambda data, source: restore(data, Path(source)),
    "export": lambda data, folder: export_tables(latest_path(data), Path(folder)),
}


def die_before_file_operation(number: int, data: str) -> None:
    """Kill this process at its n-th operation on a file of the data folder or beside it, whatever the clock says."""
    left, place = [number], str(Path(data).parent)

    def hook(event: str, arguments: tuple[object, ...]) -> None:
        if event in CHANGES_FILES and str(arguments[0]).startswith(place):
            left[0] -= 1
            if not left[0]:
                os.kill(os.getpid(), signal.SIGKILL)

    sys.addaudithook(hook)


def child(order: dict[str, object], acknowledge: int) -> None:
    """Do the work and acknowledge it; in the forked process, which ends here."""
    try:
        if order.get("operation"):
            die_before_file_operation(int(str(order["operation"])), str(order["data"]))
        answer = {"done": WORK[str(order["do"])](Path(str(order["data"])), *order["with"])}  # type: ignore[misc]
    except Exception as error:  # told to the test
        answer = {"failed": f"{type(error).__name__}: {error}"}
    os.write(acknowledge, json.dumps(answer).encode())
    os._exit(0)


def run(order: dict[str, object]) -> dict[str, object]:
    """Fork, kill after the seconds ordered unless the child ends before, and tell what came of it."""
    reading, writing = os.pipe()
    began = time.monotonic()
    pid = os.fork()
    if not pid:
        os.close(reading)
        child(order, writing)
    os.close(writing)
    until = began + float(str(order.get("seconds") or 60))
    status = None
    while status is None and time.monotonic() < until:
        ended, code = os.waitpid(pid, os.WNOHANG)
        status = code if ended else None
        time.sleep(LOOK_AGAIN_SECONDS)
    if status is None:
        os.kill(pid, signal.SIGKILL)
        _, status = os.waitpid(pid, 0)
    took = time.monotonic() - began
    with os.fdopen(reading, "rb") as pipe:
        told = pipe.read()
    killed = os.WIFSIGNALED(status) and os.WTERMSIG(status) == signal.SIGKILL
    return {"killed": killed, "took": took, **(json.loads(told) if told else {})}


if __name__ == "__main__":
    print(json.dumps("ready"), flush=True)  # noqa: T201 - answers go to standard output
    for line in sys.stdin:
        print(json.dumps(run(json.loads(line))), flush=True)  # noqa: T201 - the same
