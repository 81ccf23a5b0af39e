"""The commands that mend what is in the ledger, and what each says about it."""

from __future__ import annotations

import shlex
from typing import TYPE_CHECKING

from analytics.errors import OutputError
from analytics.ledger import open_ledger, quarantine_rows, set_aside_rows, write_quarantine
from analytics.ledger import rebuild as rebuild_ledger
from analytics.ledger import undo as undo_load
from analytics.ledger import withdraw as withdraw_record
from analytics.telling import Stages, count, say_next, writing

if TYPE_CHECKING:
    from argparse import Namespace
    from pathlib import Path


def quarantine(data_dir: Path, chosen: Namespace) -> int:
    """List the rows that wait to be mended, or the values set aside, or write the rows to a workbook."""
    if chosen.to and chosen.to.suffix.lower() != ".xlsx":
        raise OutputError(
            f"{chosen.to} is no workbook", where="quarantine --to", next_step="name a file that ends in .xlsx"
        )
    with open_ledger(data_dir, write=False) as connection:
        if chosen.to:
            with writing(chosen.to, "quarantine --to"):
                written = write_quarantine(connection, chosen.to)
            print(f"{count(written, 'row')} written to {chosen.to}; mend them there, then load it")
            say_next(f"wearledger load {shlex.quote(str(chosen.to))}", chosen)
            return 0
        rows = set_aside_rows(connection) if chosen.set_aside else quarantine_rows(connection)
    what = "set aside, in lines that were kept without it" if chosen.set_aside else "waiting in quarantine"
    for row in rows.iter_rows(named=True):
        value = "" if row["value"] is None else f" = {row['value']!r}"
        print(
            f"{row['file']}, row {row['row_no']} ({row['table']}): {row['column'] or 'whole row'}{value}: {row['says']}"
        )
    print(f"{count(rows.height, 'value')} {what}" if rows.height else f"nothing is {what}")
    if rows.height and not chosen.set_aside:
        say_next("wearledger quarantine --to FILE.xlsx", chosen)
    return 0


def undo(data_dir: Path, chosen: Namespace) -> int:
    """Undo a load."""
    again = undo_load(data_dir, chosen.load_id)
    print(f"load {chosen.load_id} undone")
    for old, new in again.items():
        print(f"load {old} was taken again as load {new}")
    say_next("wearledger analyse", chosen)
    return 0


def withdraw(data_dir: Path, chosen: Namespace) -> int:
    """Withdraw an order or one of its lines."""
    lines = withdraw_record(data_dir, chosen.record, reason=chosen.reason)
    print(f"{count(lines, 'line')} of {chosen.record} withdrawn: {chosen.reason}")
    say_next("wearledger analyse", chosen)
    return 0


def rebuild(data_dir: Path, chosen: Namespace) -> int:  # noqa: ARG001 - every command takes the same two
    """Build the ledger again from the kept feeds."""
    said = Stages()
    rebuild_ledger(data_dir, progress=said)
    said.done()
    print("the ledger was built again; the old file stays beside it as ledger.before-rebuild.duckdb")
    return 0
