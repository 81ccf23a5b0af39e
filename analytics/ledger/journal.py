"""The journal of what was done to the ledger: enough, with the kept feeds, to build it again."""

from __future__ import annotations

import json
import os
from datetime import date
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError
from analytics.ledger.feeds import feeds_dir
from analytics.ledger.queries import answer

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

STEPS: dict[str, dict[str, type]] = {
    "load": {"load_id": int, "feed": str, "loaded_on": str, "complete": bool},
    "undo": {"load_id": int, "again": list},
    "withdraw": {"name": str, "reason": str},
    "same": {"kind": str, "old": str, "new": str},
    "not same": {"kind": str, "old": str},
}
"""What each kind of line holds."""


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
    A last line without an end was being written when the process ended, and is left out.
    """
    path = journal_path(data_dir)
    if not path.exists():
        return []
    try:
        whole = path.read_text(encoding="utf-8").rpartition("\n")[0]
        done = [json.loads(line) for line in whole.splitlines()]
        _check(done)
    except (ValueError, KeyError, TypeError, AttributeError):
        raise LedgerError(
            "the journal of loads is not what was written",
            where=str(path),
            next_step="restore it from a copy of the data folder, then run: wearledger doctor",
        ) from None
    return done


def _check(done: list[dict[str, Any]]) -> None:
    """Raise KeyError, TypeError or ValueError where a line lacks what its step needs."""
    for step in done:
        for name, kind in STEPS[step["did"]].items():
            if not isinstance(step[name], kind):
                raise TypeError(name)
        if step["did"] == "load":
            date.fromisoformat(step["loaded_on"])


def _newest(line: dict[str, Any]) -> int:
    """Return the newest load a line of the journal brought."""
    return int(line["load_id"]) if line["did"] == "load" else max(line.get("again", []), default=0)


def note(data_dir: Path, *done: dict[str, Any]) -> None:
    """Append lines to the journal and flush them to the disk."""
    path = journal_path(data_dir)
    path.parent.mkdir(parents=True, exist_ok=True)
    with path.open("a+b") as file:
        file.seek(0)
        file.truncate(file.read().rfind(b"\n") + 1)
        file.write("".join(json.dumps(each, sort_keys=True) + "\n" for each in done).encode())
        file.flush()
        os.fsync(file.fileno())


def note_loads(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> None:
    """Append every load the journal does not have: the newest, and those whose process ended too early to note them."""
    noted = max((_newest(line) for line in read_journal(data_dir)), default=0)
    stored = answer(connection, "loads_after", load_id=noted)
    done = [
        {"did": "load", "load_id": load_id, "feed": feed, "loaded_on": loaded_on.isoformat(), "complete": complete}
        for load_id, feed, loaded_on, complete in stored.rows()
    ]
    if done:
        note(data_dir, *done)
