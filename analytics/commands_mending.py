"""The commands that mend what is in the ledger, and what each says about it."""

from __future__ import annotations

import shlex
import sys
from typing import TYPE_CHECKING

from analytics.counting import count
from analytics.errors import OutputError
from analytics.ledger import (
    KINDS,
    apart,
    open_ledger,
    proposals,
    quarantine_rows,
    rows_waiting,
    same_names,
    set_aside_rows,
    write_quarantine,
)
from analytics.ledger import rebuild as rebuild_ledger
from analytics.ledger import same as same_name
from analytics.ledger import undo as undo_load
from analytics.ledger import withdraw as withdraw_record
from analytics.paths import writing
from analytics.telling import Stages, say_next, with_data

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
        waiting = rows_waiting(quarantine_rows(connection))
        if chosen.to and waiting:
            with writing(chosen.to, "quarantine --to"):
                written = write_quarantine(connection, chosen.to)
            print(f"{count(written, 'row')} written to {chosen.to}; mend them there, then load it")
            say_next(f"wearledger load {shlex.quote(str(chosen.to))}", chosen)
            return 0
        rows = set_aside_rows(connection) if chosen.set_aside else quarantine_rows(connection)
    what = "set aside, each in a line that was kept without it" if chosen.set_aside else "waiting in quarantine"
    for row in rows.iter_rows(named=True):
        value = "" if row["value"] is None else f" = {row['value']!r}"
        print(
            f"{row['file']}, row {row['row_no']} ({row['table']}): {row['column'] or 'whole row'}{value}: {row['says']}"
        )
    held = count(rows.height, "value") + ("" if chosen.set_aside else f" in {count(waiting, 'row')}")
    print(f"{held} {what}" if rows.height else f"nothing is {what}")
    if chosen.to:
        print(f"{chosen.to} was not written")
    elif rows.height and not chosen.set_aside:
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


def same(data_dir: Path, chosen: Namespace) -> int:
    """Say that two names mean one thing, take it back, list what was said, or propose what to say."""
    kind, *names = chosen.names or [""]
    wanted = 1 if chosen.undo else 2
    if chosen.propose and not chosen.names and not chosen.undo:
        return _propose(data_dir, chosen)
    if not chosen.names and not chosen.undo:
        return _list_same(data_dir, chosen)
    if chosen.propose or kind not in KINDS or len(names) != wanted:
        chosen.refuse(
            f"write: same KIND OLD NEW, or same --undo KIND OLD, or same --propose; KIND is one of {', '.join(KINDS)}, "
            "and a name that holds blanks stands in quotes"
        )
    if chosen.undo:
        print(f"{kind} {names[0]!r} is no longer read as {apart(data_dir, kind, names[0])!r}")
    else:
        for told in same_name(data_dir, kind, *names):
            print(told, file=sys.stderr)
        print(f"{kind} {names[0]!r} is read as {names[1]!r} from now on; the records stay as written")
    say_next("wearledger analyse", chosen)
    return 0


def _list_same(data_dir: Path, chosen: Namespace) -> int:
    """List what was said to be one."""
    with open_ledger(data_dir, write=False) as connection:
        stated = same_names(connection)
    for kind, old, new in stated.rows():
        print(f"{kind} {old!r} is read as {new!r}")
    print(
        f"{count(stated.height, 'name')} said to be another one" if stated.height else "no name is said to be another"
    )
    say_next("wearledger same --propose", chosen)
    return 0


def _propose(data_dir: Path, chosen: Namespace) -> int:
    """List names that are probably one, each with the command that says so."""
    with open_ledger(data_dir, write=False) as connection:
        found = proposals(connection)
    for row in found.iter_rows(named=True):
        old, new = (
            f"{row[side + '_name']!r} ({count(row[side + '_lines'], 'line')}"
            f"{', such as ' + row[side + '_example'] if row[side + '_example'] else ''})"
            for side in ("old", "new")
        )
        print(f"{row['kind']} {old} may be {new}")
        command = shlex.join(["wearledger", "same", row["kind"], row["old_name"], row["new_name"]])
        print(f"  if so: {with_data(command, chosen.data)}")
    if found.is_empty():
        print("no two names are likely to be one")
    else:
        print(f"{count(found.height, 'pair')} to look at; none is read as one before you say so")
    return 0


def rebuild(data_dir: Path, chosen: Namespace) -> int:  # noqa: ARG001 - every command takes the same two
    """Build the ledger again from the kept feeds."""
    said = Stages()
    rebuild_ledger(data_dir, progress=said)
    said.done()
    print("the ledger was built again; the old file stays beside it as ledger.before-rebuild.duckdb")
    return 0
