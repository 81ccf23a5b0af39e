"""Build the ledger again from the kept feeds and the journal."""

from __future__ import annotations

import os
import shutil
from datetime import date
from typing import TYPE_CHECKING, Any

from analytics.errors import LedgerError
from analytics.ledger.answers import ledger_hash
from analytics.ledger.connect import ledger_path, open_ledger, transaction
from analytics.ledger.feeds import read_feed
from analytics.ledger.journal import note_loads, read_journal
from analytics.ledger.load import WRITING
from analytics.ledger.same import repeat_name
from analytics.ledger.taking import Delivery, kept_as, take
from analytics.ledger.turn import LedgerHeldError, Patience, turn
from analytics.ledger.undo import undo_in, withdraw_in

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb


def rebuild(data_dir: Path, *, progress: Callable[[str], None] | None = None) -> str:
    """Build the ledger again and put it in the place of the old one.

    Parameters
    ----------
    data_dir
        Data folder with kept feeds.
    progress
        Called with a sentence before each step.

    Returns
    -------
    str
        Hash of the ledger that was built.

    Raises
    ------
    LedgerError
        If the journal or a kept feed is missing or damaged, or another process holds the ledger; the old ledger
        stays as it is then.

    Notes
    -----
    Replays loads, undone ones too, withdrawals and names said to be one in their order, so that numbers stay the same.
    No other process can write meanwhile: what it wrote would not be in the new ledger.
    The old file stays beside the new one as ``ledger.before-rebuild.duckdb``.
    """
    say = progress or (lambda _: None)
    beside = data_dir / "rebuilding"
    with WRITING, turn(data_dir, Patience(30, progress)):
        _refuse_if_held(data_dir)
        done = read_journal(data_dir)
        if not done:
            raise LedgerError(
                "there is no journal of loads to build from",
                where=str(data_dir),
                next_step="load the original files again",
            )
        shutil.rmtree(beside, ignore_errors=True)
        with open_ledger(beside, write=True) as connection:
            for step in done:
                say(
                    " ".join(
                        str(value) for value in (step["did"], step.get("load_id", step.get("name", step.get("old"))))
                    )
                )
                with transaction(connection):
                    _repeat(connection, data_dir, step)
            digest = ledger_hash(connection)
        _swap(data_dir, beside)
    return digest


def _refuse_if_held(data_dir: Path) -> None:
    if not ledger_path(data_dir).exists():
        return
    try:
        with open_ledger(data_dir, write=True) as connection:
            note_loads(data_dir, connection)
    except LedgerHeldError:
        raise
    except LedgerError:  # damaged, or of another version: what a rebuild is for
        return


def _repeat(connection: duckdb.DuckDBPyConnection, data_dir: Path, step: dict[str, Any]) -> None:
    if step["did"] == "load":
        mapped, text = read_feed(data_dir, step["feed"], at_once=False)
        delivery = Delivery(
            mapped, kept_as(step["feed"]), text, date.fromisoformat(step["loaded_on"]), step["complete"]
        )
        report, _ = take(connection, delivery, lambda _: None)
        if report.load_id != step["load_id"]:
            raise LedgerError(
                f"load {step['load_id']} of the journal came out as load {report.load_id}",
                where=str(data_dir),
                next_step="restore the journal from a backup",
            )
    elif step["did"] == "undo":
        undo_in(connection, data_dir, step["load_id"])
    elif step["did"] == "withdraw":
        withdraw_in(connection, step["name"], step["reason"])
    else:
        repeat_name(connection, step)


def _swap(data_dir: Path, beside: Path) -> None:
    """Put the new ledger in place in one step; a log is left only by an old one that no longer opens."""
    place, before = ledger_path(data_dir), data_dir / "ledger.before-rebuild.duckdb"
    log, log_before = place.with_name(f"{place.name}.wal"), before.with_name(f"{before.name}.wal")
    before.unlink(missing_ok=True)
    log_before.unlink(missing_ok=True)
    if place.exists():
        _keep_beside(place, before)
    if log.exists():
        log.replace(log_before)
    ledger_path(beside).replace(place)
    shutil.rmtree(beside)


def _keep_beside(place: Path, before: Path) -> None:
    try:
        os.link(place, before)
    except OSError:  # a disk that knows no links
        shutil.copyfile(place, before)
