"""Examine a data folder: whether everything that was loaded is still there, byte for byte and row for row."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import duckdb

from analytics.counting import count
from analytics.errors import LedgerError
from analytics.ledger.answers import loads
from analytics.ledger.connect import LedgerDamagedError, damaged, open_ledger
from analytics.ledger.doctor_files import disk, kept_feeds, left_log, snapshots
from analytics.ledger.finding import Finding
from analytics.ledger.journal import not_yet_noted
from analytics.ledger.kept import RESTORE, Kept, as_told_by_ledger, examine_kept
from analytics.ledger.key_check import key_trouble
from analytics.ledger.placing import row_statement
from analytics.ledger.quarantine import quarantine_rows, rows_waiting
from analytics.ledger.queries import answer
from analytics.ledger.schema import quoted
from analytics.records.feed import FEED

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    import polars as pl

WHOLE = (
    "is whole: nothing that was loaded is missing from it; "
    "kept feeds serve to build it again, to undo a load and to forget a car"
)


def doctor(data_dir: Path, *, progress: Callable[[str], None] | None = None) -> list[Finding]:
    """Examine ledger, journal, kept feeds, snapshots and disk of a data folder; nothing is changed.

    Parameters
    ----------
    data_dir
        Data folder.
    progress
        Called with a sentence where another process must be waited for; None = written to stderr.

    Returns
    -------
    list of Finding
        At least one per kind that could be examined; one per fault. A ledger that cannot be opened hides nothing else.
    """
    kept = examine_kept(data_dir)
    found = [*left_log(data_dir)]
    loaded: pl.DataFrame | None = None
    try:
        with open_ledger(data_dir, write=False, waiting=progress) as connection:
            found.append(Finding("ledger", ok=True, says="opens, and its tables are those of this version"))
            loaded = _loaded(connection)
            kept = _with_ledger(data_dir, connection, kept, loaded)
            for examine in (_counts, _content, _quarantine, _journal):
                found += _examined(examine, connection, kept)
            found += _key(data_dir, connection)
    except LedgerDamagedError as error:
        found.append(Finding("ledger", ok=False, says=f"{error.what}; {kept.advice}"))
    except LedgerError as error:
        found.append(Finding("ledger", ok=False, says=f"{error.what}; {error.next_step}"))
    if kept.journal_says:
        found.append(Finding("journal", ok=False, says=f"{kept.journal_says}; {RESTORE}"))
    if loaded is not None and any(kept.damage.values()) and not any(_of_ledger(each) for each in found):
        found.append(Finding("ledger", ok=True, says=WHOLE))
    return [*found, *kept_feeds(data_dir, kept, loaded), *snapshots(data_dir), *disk(data_dir)]


def _of_ledger(finding: Finding) -> bool:
    return not finding.ok and finding.kind != "journal"


def _examined(
    examine: Callable[[duckdb.DuckDBPyConnection, Kept], Iterator[Finding]],
    connection: duckdb.DuckDBPyConnection,
    kept: Kept,
) -> list[Finding]:
    """Return what a check found; where the ledger cannot be read that is the finding, and the next check is tried."""
    try:
        return [*examine(connection, kept)]
    except duckdb.Error as error:
        what = damaged(Path("ledger"), error).what
        return [Finding(examine.__name__.strip("_"), ok=False, says=f"{what}; {kept.advice}")]


def _with_ledger(
    data_dir: Path, connection: duckdb.DuckDBPyConnection, kept: Kept, loaded: pl.DataFrame | None
) -> Kept:
    """Return what was found of journal and feeds, with what the ledger tells; as it was where that cannot be read."""
    if loaded is None:
        return kept
    try:
        untold = [] if kept.journal_says else not_yet_noted(data_dir, connection)
        return as_told_by_ledger(data_dir, kept, untold, loaded)
    except duckdb.Error:  # the checks after this one tell it
        return kept


def _key(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    try:
        says = key_trouble(data_dir, connection)
    except duckdb.Error:  # the checks before have told it
        return
    if says is not None:
        yield Finding("key", ok=not says, says=says or "the key that hides vehicle ids is there")


def _loaded(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame | None:
    try:
        return answer(connection, "doctor_feeds")
    except duckdb.Error:  # the checks before have told it
        return None


def _counts(connection: duckdb.DuckDBPyConnection, kept: Kept) -> Iterator[Finding]:
    faults = answer(connection, "doctor_counts")
    for load_id, table, what, counted, stored in faults.rows():
        says = f"load {load_id}, {table}: {what} should be {counted}, and {stored} are there; {kept.advice}"
        yield Finding("counts", ok=False, says=says)
    if faults.is_empty():
        total = connection.sql("select count(*), coalesce(sum(rows_read), 0)::bigint from load").fetchall()[0]
        yield Finding(
            "counts", ok=True, says=f"{count(total[1], 'row')} read in {count(total[0], 'load')}, all accounted for"
        )


def _content(connection: duckdb.DuckDBPyConnection, kept: Kept) -> Iterator[Finding]:
    rows = 0
    wrong = False
    for name, table in FEED.items():
        ((held, changed),) = connection.sql(row_statement("changed_content", table)).fetchall()
        rows += held
        if changed:
            wrong = True
            says = f"{count(changed, f'row of {name} is', f'rows of {name} are')} not what was loaded; {kept.advice}"
            yield Finding("content", ok=False, says=says)
    for (name,) in connection.sql("select table_name from duckdb_tables()").fetchall():
        # values that no other check looks at may be those that cannot be read
        connection.sql(f"select bit_xor(hash(t)) from {quoted(name)} as t").fetchall()  # noqa: S608 - quoted
    if not wrong:
        yield Finding("content", ok=True, says=count(rows, "row holds what was loaded", "rows hold what was loaded"))


def _quarantine(connection: duckdb.DuckDBPyConnection, kept: Kept) -> Iterator[Finding]:  # noqa: ARG001 - one signature
    waiting = rows_waiting(quarantine_rows(connection))
    told = f"{count(waiting, 'row waits', 'rows wait')} to be mended: `wearledger quarantine`"
    says = told if waiting else "nothing waits to be mended"
    yield Finding("quarantine", ok=True, says=says)


def _journal(connection: duckdb.DuckDBPyConnection, kept: Kept) -> Iterator[Finding]:
    """Compare the loads that count with the journal; the newest load may still have to be noted."""
    if kept.journal_says:
        return
    if kept.journal_gone:
        says = (
            f"it is gone; the ledger tells {count(len(kept.steps), 'step')} of it, "
            "and the next `wearledger load` or `wearledger rebuild` writes it again"
        )
        yield Finding("journal", ok=False, says=says)
        return
    held = {*loads(connection)["load_id"].to_list()}
    lost = sorted(kept.live - held)
    more = sorted(number for number in held - kept.live if number != kept.newest + 1)
    if lost:
        told = ", ".join(map(str, lost))
        yield Finding("journal", ok=False, says=f"load {told} is in the journal, not in the ledger; {kept.advice}")
    if more:
        told = ", ".join(map(str, more))
        yield Finding("journal", ok=False, says=f"load {told} is in the ledger, not in the journal; {RESTORE}")
    if not lost and not more:
        yield Finding("journal", ok=True, says=f"{count(len(kept.steps), 'step')} noted, those of the ledger")
