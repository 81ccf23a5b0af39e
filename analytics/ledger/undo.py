"""Undo a load, and withdraw a line: nothing is deleted, the views leave it out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import LedgerError
from analytics.ledger.answers import loads
from analytics.ledger.connect import open_ledger, transaction
from analytics.ledger.feeds import read_feed
from analytics.ledger.journal import announce, note_loads
from analytics.ledger.load import WRITING
from analytics.ledger.queries import answer, insert, query
from analytics.ledger.taking import Delivery, insert_frame, kept_as, now, take

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb


def undo(data_dir: Path, load_id: int) -> dict[int, int]:
    """Undo one load, as if it had never been made.

    Parameters
    ----------
    data_dir
        Data folder.
    load_id
        Number of the load.

    Returns
    -------
    dict of int to int
        Later loads and the numbers under which they were taken again, because what they found unchanged, revised or
        unknown may depend on the load undone. Empty if it was the last one.

    Raises
    ------
    LedgerError
        If there is no such load, it was undone before, or a later load's kept feed is damaged; nothing changed then.
    """
    with WRITING, open_ledger(data_dir, write=True) as connection:
        note_loads(data_dir, connection)
        with transaction(connection):
            again = undo_in(connection, data_dir, load_id)
            announce(data_dir, connection, {"did": "undo", "load_id": load_id, "again": [*again.values()]})
        note_loads(data_dir, connection)
    return again


def undo_in(connection: duckdb.DuckDBPyConnection, data_dir: Path, load_id: int) -> dict[int, int]:
    """Undo one load within the caller's transaction; as `undo`."""
    live = loads(connection)
    if load_id not in live["load_id"]:
        numbers = ", ".join(str(number) for number in live["load_id"].tail(10))
        raise LedgerError(
            f"there is no load {load_id} to undo",
            where="undo LOAD",
            next_step=f"choose one of the loads that count: {numbers or 'none'}",
        )
    later = live.filter(pl.col("load_id") > load_id).sort("load_id")
    feeds = [read_feed(data_dir, feed) for feed in later["feed_hash"]]
    ending = [load_id, *later["load_id"]]
    undone = pl.DataFrame({"load_id": ending}, schema={"load_id": pl.Int64}).with_columns(undone_at=pl.lit(now()))
    insert_frame(connection, "undone_load", undone)
    connection.execute("create or replace temp table withdrawal_before as from withdrawal")
    again: dict[int, int] = {}
    for (mapped, text), old in zip(feeds, later.iter_rows(named=True), strict=True):
        delivery = Delivery(mapped, kept_as(old["feed_hash"]), text, old["loaded_on"], old["complete"])
        report, _ = take(connection, delivery, lambda _: None)
        again[old["load_id"]] = int(report.load_id or 0)
        _move_withdrawals(connection, old["load_id"], again[old["load_id"]])
    if again:
        insert(connection, "quarantine_end", "hand_ended", first_again=min(again.values()))
    return again


def withdraw(data_dir: Path, name: str, *, reason: str) -> int:
    """Withdraw an order or one of its lines.

    Parameters
    ----------
    data_dir
        Data folder.
    name
        ``RECORD`` or ``RECORD/LINE``, after ``source:`` where the feed has one, and after a colon alone where it has
        none and the number itself holds a colon; quarantined lines count too.
    reason
        Why; kept with it.

    Returns
    -------
    int
        Lines withdrawn.

    Raises
    ------
    LedgerError
        If no reason is given, or no line that counts has that name.

    Notes
    -----
    The same line loaded again stays withdrawn; a line with other words under this number counts again.
    """
    with WRITING, open_ledger(data_dir, write=True) as connection:
        note_loads(data_dir, connection)
        with transaction(connection):
            lines = withdraw_in(connection, name, reason)
            announce(data_dir, connection, {"did": "withdraw", "name": name, "reason": reason})
        note_loads(data_dir, connection)
    return lines


def withdraw_in(connection: duckdb.DuckDBPyConnection, name: str, reason: str) -> int:
    """Withdraw an order or line within the caller's transaction; as `withdraw`."""
    if not reason.strip():
        raise LedgerError(
            "a record is withdrawn for a reason", where=f"withdraw {name}", next_step="state it after --reason"
        )
    found = answer(connection, "named_lines", name=name)
    if found.is_empty():
        raise LedgerError(
            f"no line that counts is named {name}",
            where=f"withdraw {name}",
            next_step="write RECORD or RECORD/LINE as `wearledger show record` does: after `source:` where the mapping "
            "states a source, after `:` where it states none and the number holds a colon",
        )
    quarantined, at = found.filter(pl.col("quarantine_id").is_not_null()), now()
    ended = quarantined.select(
        "quarantine_id", status=pl.lit("withdrawn"), by_hand=pl.lit(value=True), reason=pl.lit(reason), ended_at=at
    )
    newest = connection.sql("select coalesce(max(load_id), 0) from load").fetchall()[0][0]
    held = found.filter(pl.col("quarantine_id").is_null())
    named = held.select("feed_source", "record_id", "line_no").with_columns(
        reason=pl.lit(reason), withdrawn_at=pl.lit(at), load_id=pl.lit(newest, dtype=pl.Int64)
    )
    insert_frame(connection, "quarantine_end", ended)
    insert_frame(connection, "withdrawal", named)
    return int(found["lines"].sum())


def _move_withdrawals(connection: duckdb.DuckDBPyConnection, old: int, new: int) -> None:
    """Let a withdrawal hide a load under its new number as it did under the old one."""
    connection.execute(query("move_withdrawal"), {"old": old, "new": new})
