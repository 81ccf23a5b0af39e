"""The journal of what was done to the ledger: enough, with the kept feeds, to build it again."""

from __future__ import annotations

import json
import os
import re
from datetime import date
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError
from analytics.ledger.answers import ledger_hash
from analytics.ledger.feeds import feeds_dir, text_hash
from analytics.ledger.queries import answer
from analytics.ledger.retold import STEPS, told_steps

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

CHECK = "~"
"""Key of a line's checksum; it sorts behind all others, so that a line cut short lacks it."""

CHECKED = re.compile(f'"{CHECK}": "[0-9a-f]+"}}')


def journal_path(data_dir: Path) -> Path:
    """Return where the journal of a data folder lies."""
    return feeds_dir(data_dir) / "journal.jsonl"


def read_journal(data_dir: Path) -> list[dict[str, Any]]:
    """Return what was done, oldest first: ``did`` (a key of `STEPS`) and its values.

    Raises
    ------
    LedgerError
        If a line is not what was written.

    Notes
    -----
    Every line ends with a checksum of itself and of the line before; lines written before there were checksums have
    none. A last line without its end was being written when the process ended, and is left out.
    """
    path = journal_path(data_dir)
    if not path.exists():
        return []
    try:
        return _steps(path.read_text(encoding="utf-8"))[0]
    except (ValueError, KeyError, TypeError, AttributeError):
        raise LedgerError(
            "the journal of loads is not what was written",
            where=str(path),
            next_step="restore it from a copy of the data folder, then run: wearledger doctor",
        ) from None


def _steps(text: str) -> tuple[list[dict[str, Any]], str]:
    """Return the steps of a journal, and the checksum of its last line."""
    *whole, torn = text.split("\n")
    # a last line with its checksum lacks its end only, or else has another sign there, and is no JSON then
    lines = [json.loads(line) for line in [*whole, *([torn] if CHECKED.search(torn) else [])]]
    before = ""
    for line in lines:
        found = line.pop(CHECK, "")
        if found != (_checksum(before, line) if found or before else ""):
            raise ValueError(line)
        before = found
    _check(lines)
    return lines, before


def _checksum(before: str, step: dict[str, Any]) -> str:
    return text_hash(before + json.dumps(step, sort_keys=True))[:16]


def _announced_path(data_dir: Path) -> Path:
    return feeds_dir(data_dir) / "announced.json"


def _check(done: list[dict[str, Any]]) -> None:
    """Raise KeyError, TypeError or ValueError where a line lacks what its step needs."""
    for step in done:
        if {*step} != {"did", *STEPS[step["did"]]}:
            raise KeyError(step["did"])
        for name, kind in STEPS[step["did"]].items():
            if not isinstance(step[name], kind):
                raise TypeError(name)
        if step["did"] == "load":
            date.fromisoformat(step["loaded_on"])


def newest_load(line: dict[str, Any]) -> int:
    """Return the number of the newest load a step of the journal brought."""
    return int(line["load_id"]) if line["did"] == "load" else max(line.get("again", []), default=0)


def note(data_dir: Path, *done: dict[str, Any]) -> None:
    """Append lines to the journal and flush them to the disk."""
    path = journal_path(data_dir)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a+b") as file:
        file.seek(0)
        text = file.read().decode()
        before = _steps(text)[1]
        whole, end, torn = text.rpartition("\n")
        file.truncate(len(whole + end))
        file.write(f"{torn}\n".encode() if CHECKED.search(torn) else b"")
        for step in done:
            before = _checksum(before, step)
            file.write((json.dumps(step | {CHECK: before}, sort_keys=True) + "\n").encode())
        file.flush()
        os.fsync(file.fileno())


def announce(data_dir: Path, connection: duckdb.DuckDBPyConnection, step: dict[str, Any]) -> None:
    """Write down a step other than a load just before it is committed, so that a kill right after loses no note of it.

    Parameters
    ----------
    data_dir
        Data folder.
    connection
        Ledger open for writing, in the transaction that holds the step.
    step
        Its line of the journal; `note_loads` appends it once the step is committed.
    """
    path = _announced_path(data_dir)
    path.parent.mkdir(parents=True, exist_ok=True)
    beside = path.with_suffix(".tmp")
    with beside.open("w", encoding="utf-8") as file:
        json.dump({"step": step, "ledger_hash": ledger_hash(connection)}, file)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def not_yet_noted(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """Return the steps that are to be noted before any other: all of them where the journal is lost.

    Else it is the one that was committed by a process which ended before it could note it, if there is one.

    Parameters
    ----------
    data_dir
        Data folder.
    connection
        Open ledger.
    """
    if not journal_path(data_dir).exists():
        return told_steps(connection)
    path = _announced_path(data_dir)
    if not path.exists():
        return []
    try:
        told = json.loads(path.read_text(encoding="utf-8"))
        step, hash_after = told["step"], told["ledger_hash"]
        _check([step])
    except (ValueError, KeyError, TypeError, AttributeError):
        return []
    noted = read_journal(data_dir)[-1:] == [step]
    return [step] if not noted and hash_after == ledger_hash(connection) else []


def _settle(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> None:
    """Note the step that was announced if it was committed, and forget the announcement; before any other change."""
    done = not_yet_noted(data_dir, connection)
    if done:
        note(data_dir, *done)
    _announced_path(data_dir).unlink(missing_ok=True)


def note_loads(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> None:
    """Append every step the journal does not have: the newest, and those whose process ended too early to note them.

    Notes
    -----
    A journal that is gone is written again from the ledger's own tables.
    """
    _settle(data_dir, connection)
    noted = max((newest_load(line) for line in read_journal(data_dir)), default=0)
    stored = answer(connection, "loads_after", load_id=noted)
    done = [
        {"did": "load", "load_id": load_id, "feed": feed, "loaded_on": loaded_on.isoformat(), "complete": complete}
        for load_id, feed, loaded_on, complete in stored.rows()
    ]
    if done:
        note(data_dir, *done)
