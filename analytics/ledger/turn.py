"""Whose turn it is to write: a lock that ends with its process, with a note of who took it for those who wait."""

from __future__ import annotations

import json
import os
import re
import sys
import threading
import time
from contextlib import contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING

from analytics.errors import LedgerError

if sys.platform != "win32":
    import fcntl

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LOOK_AGAIN_SECONDS = 0.05
COURTESY_SECONDS = 5.0
"""So long a reader lets a writer go first that waits or works; then it reads beside it where the file allows it."""

LONGEST_COMMAND = 80
PROCESSES = Path("/proc")

_taken: set[tuple[Path, int]] = set()
"""Locks of this process, each with the thread that took it."""

_running: list[str] = []


class LedgerHeldError(LedgerError):
    """Another process, or another task of this one, holds the ledger, or a car is being forgotten."""


class Patience:
    """How long to wait for others, who are told once.

    Parameters
    ----------
    seconds
        From now on.
    say
        Called once with a sentence where somebody must be waited for; None = written to stderr.
    """

    def __init__(self, seconds: float, say: Callable[[str], None] | None = None) -> None:
        self.seconds = seconds
        self._say = say or _to_stderr
        self._until = time.monotonic() + seconds
        self._told = False

    @property
    def over(self) -> bool:
        """Whether all the time has passed."""
        return time.monotonic() >= self._until

    def wait(self, holder: str) -> None:
        """Say who is waited for, the first time, and wait a moment."""
        if not self._told:
            self._say(f"{holder} uses the ledger; waiting for it, up to {self.seconds:g} s")
            self._told = True
        time.sleep(LOOK_AGAIN_SECONDS)


def lock_path(data_dir: Path) -> Path:
    """Return the file that is locked by who writes; whether it is there says nothing."""
    return data_dir / "ledger.lock"


def name_command(command: str) -> None:
    """Say what this process is called where others wait for it; without arguments, which may name a car."""
    _running[:] = [command]


@contextmanager
def turn(data_dir: Path, patience: Patience | None = None) -> Iterator[None]:
    """Let no other process change the data folder while the block runs; again within a block of this thread is no harm.

    Parameters
    ----------
    data_dir
        Data folder; where it is missing, or lies on a disk without locks, only the database's own lock holds.
    patience
        How long to wait for another writer; None = 30 s.

    Raises
    ------
    LedgerHeldError
        If another process or thread still has its turn when patience is over.
    """
    patience = patience or Patience(30)
    mine = (lock_path(data_dir).absolute(), threading.get_ident())
    handle = None if mine in _taken else _opened(data_dir, os.O_RDWR | os.O_CREAT)
    if handle is None:
        yield
        return
    try:
        while not _locked(handle, exclusive=True):
            if patience.over:
                raise held(lock_path(data_dir), holder(data_dir), patience.seconds)
            patience.wait(holder(data_dir))
        _taken.add(mine)
        _write_note(handle)
        yield
    finally:
        if mine in _taken:
            _taken.discard(mine)
            with suppress(OSError):
                os.ftruncate(handle, 0)
        os.close(handle)


def let_writers_go_first(data_dir: Path, patience: Patience) -> None:
    """Wait for a writer that has its turn: readers that come one after the other would never let it in."""
    mine = (lock_path(data_dir).absolute(), threading.get_ident())
    handle = None if mine in _taken else _opened(data_dir, os.O_RDONLY)
    if handle is None:
        return
    until = time.monotonic() + COURTESY_SECONDS
    try:
        while not _locked(handle, exclusive=False) and not patience.over and time.monotonic() < until:
            patience.wait(holder(data_dir))
    finally:
        os.close(handle)


def _opened(data_dir: Path, flags: int) -> int | None:
    """Return a handle on the file to lock; None where there is none or it may not be opened."""
    if sys.platform == "win32" or not data_dir.is_dir():
        return None
    try:
        return os.open(lock_path(data_dir), flags, 0o666)
    except OSError:
        return None


def _locked(handle: int, *, exclusive: bool) -> bool:
    try:
        fcntl.flock(handle, (fcntl.LOCK_EX if exclusive else fcntl.LOCK_SH) | fcntl.LOCK_NB)
    except BlockingIOError:
        return False
    except OSError:  # a disk that knows no locks: the database has its own
        return True
    return True


def _write_note(handle: int) -> None:
    command = _running[0] if _running else Path(sys.argv[0] or "python").name
    note = {"process": os.getpid(), "command": command, "since": _told_instant(time.time())}
    with suppress(OSError):  # a full disk: others are told less
        os.ftruncate(handle, 0)
        os.pwrite(handle, json.dumps(note).encode(), 0)


def holder(data_dir: Path, error: str = "") -> str:
    """Return who holds the ledger, as far as can be known: process, command and since when.

    Parameters
    ----------
    data_dir
        Data folder.
    error
        What the database said; it may name the process. Empty = who has the turn.
    """
    if "different configuration" in error:
        return "another task of this program"
    named = re.search(r"PID (\d+)", error)
    try:
        note = json.loads(lock_path(data_dir).read_text(encoding="utf-8"))
        process, told = int(note["process"]), f"{note['command']}, since {note['since']}"
    except (OSError, ValueError, KeyError, TypeError):
        process, told = 0, ""
    if named and int(named[1]) != process:
        process, told = int(named[1]), _seen(int(named[1]))
    if process == os.getpid():
        return "another task of this program"
    if not process:
        return "another process"
    return f"process {process} ({told})" if told else f"process {process}"


def held(path: Path, who: str, seconds: float) -> LedgerHeldError:
    """Return the error for a ledger that did not become free in time."""
    return LedgerHeldError(
        f"{who} holds the ledger and did not let go within {seconds:g} s",
        where=str(path),
        next_step="wait until it has finished, or end that process; what it has committed stays",
    )


def _seen(process: int) -> str:
    """Return command and start of a process, where the system shows them."""
    try:
        words = (PROCESSES / str(process) / "cmdline").read_bytes().decode(errors="replace").split("\0")
        after = (PROCESSES / str(process) / "stat").read_text(encoding="utf-8", errors="replace").rpartition(") ")[2]
        booted = re.search(r"^btime (\d+)", (PROCESSES / "stat").read_text(encoding="utf-8"), re.MULTILINE)
        started = int(after.split()[19]) / os.sysconf("SC_CLK_TCK") + int(booted[1] if booted else "")
    except (OSError, ValueError, IndexError):
        return ""
    names = [Path(word).name for word in words]
    command = " ".join(words[names.index("wearledger") :] if "wearledger" in names else words)
    command = re.sub(r"^\S*/", "", " ".join(command.split()))
    if len(command) > LONGEST_COMMAND:
        command = f"{command[:LONGEST_COMMAND]}…"
    return f"{command}, since {_told_instant(started)}"


def _told_instant(seconds: float) -> str:
    return datetime.fromtimestamp(seconds).astimezone().strftime("%Y-%m-%d %H:%M:%S")


def _to_stderr(sentence: str) -> None:
    sys.stderr.write(f"{sentence}\n")
    sys.stderr.flush()
