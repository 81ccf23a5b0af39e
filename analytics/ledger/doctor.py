"""Examine a data folder: whether everything that was loaded is still there, byte for byte and row for row."""

from __future__ import annotations

import re
import shutil
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from analytics.counting import count
from analytics.errors import LedgerError
from analytics.ledger.answers import loads
from analytics.ledger.connect import CONFIG, LedgerDamagedError, damaged, ledger_path, open_ledger
from analytics.ledger.feeds import feeds_dir, read_feed
from analytics.ledger.journal import not_yet_noted
from analytics.ledger.kept import RESTORE, Kept, examine_kept, stray_feeds
from analytics.ledger.placing import row_statement
from analytics.ledger.quarantine import quarantine_rows, rows_waiting
from analytics.ledger.queries import answer
from analytics.ledger.schema import quoted
from analytics.records.feed import FEED

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

LEAST_FREE_BYTES = 200_000_000
"""Below this, or below three times the ledger, a load or an analysis may run out of room."""


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was examined.

    Attributes
    ----------
    kind
        What: ``log``, ``ledger``, ``counts``, ``content``, ``quarantine``, ``journal``, ``feeds``, ``feed rows``,
        ``snapshots``, ``disk``.
    ok
        Whether it is as it should be.
    says
        What was seen, and what to do where it is not.
    """

    kind: str
    ok: bool
    says: str


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
    found = [*_log(data_dir)]
    loaded: pl.DataFrame | None = None
    try:
        with open_ledger(data_dir, write=False, waiting=progress) as connection:
            found.append(Finding("ledger", ok=True, says="opens, and its tables are those of this version"))
            kept = replace(kept, steps=[*kept.steps, *_last_step(data_dir, connection, kept)])
            for examine in (_counts, _content, _quarantine, _journal):
                found += _examined(examine, connection, kept)
            loaded = _loaded(connection)
    except LedgerDamagedError as error:
        found.append(Finding("ledger", ok=False, says=f"{error.what}; {kept.advice}"))
    except LedgerError as error:
        found.append(Finding("ledger", ok=False, says=f"{error.what}; {error.next_step}"))
    if kept.journal_says:
        found.append(Finding("journal", ok=False, says=f"{kept.journal_says}; {RESTORE}"))
    found += _feeds(data_dir, kept, loaded)
    return [*found, *_snapshots(data_dir), *_disk(data_dir)]


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


def _last_step(data_dir: Path, connection: duckdb.DuckDBPyConnection, kept: Kept) -> list[dict[str, Any]]:
    """Return the step that the next command will note; nothing where journal or ledger cannot be read."""
    try:
        return [] if kept.journal_says else not_yet_noted(data_dir, connection)
    except duckdb.Error:  # the checks after this one tell it
        return []


def _loaded(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame | None:
    try:
        return answer(connection, "doctor_feeds")
    except duckdb.Error:  # the checks before have told it
        return None


def _log(data_dir: Path) -> Iterator[Finding]:
    log = ledger_path(data_dir).with_suffix(".duckdb.wal")
    if log.exists():
        size = log.stat().st_size
        says = (
            f"{size} bytes are left of a process that ended early; they are read with the ledger, "
            "and the comparison with the kept feeds shows whether they are whole"
        )
        yield Finding("log", ok=True, says=says)


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


def _feeds(data_dir: Path, kept: Kept, loaded: pl.DataFrame | None) -> Iterator[Finding]:
    named = [] if loaded is None else loaded["feed_hash"].unique(maintain_order=True).to_list()
    if not {*named} <= {*kept.damage}:
        kept = examine_kept(data_dir, named)
    for name, says in kept.damage.items():
        if says:
            remedy = f"load {kept.originals[name]} again, unchanged, with the same mapping, or {RESTORE}"
            yield Finding("feeds", ok=False, says=f"{says}; {remedy}")
    if kept.damage and not any(kept.damage.values()):
        yield Finding(
            "feeds",
            ok=True,
            says=f"{count(len(kept.damage), 'kept feed is', 'kept feeds are')} there, every byte as written",
        )
    for name in stray_feeds(data_dir, kept):
        says = (
            f"kept feed {name[:8]} is a leftover of a load that was stopped: the same file loaded again uses it, "
            f"and the folder {feeds_dir(data_dir) / name} can be deleted"
        )
        yield Finding("feeds", ok=True, says=says)
    if loaded is not None:
        whole = [name for name in named if not kept.damage[name]]
        yield from _feed_rows(loaded.filter(pl.col("feed_hash").is_in(whole)), data_dir, kept)


def _feed_rows(loaded: pl.DataFrame, data_dir: Path, kept: Kept) -> Iterator[Finding]:
    rows = [_kept_rows(data_dir, name) for name in loaded["feed_hash"].unique(maintain_order=True)]
    if not rows:
        return
    keys = ["feed_hash", "table_name", "file"]
    compared = loaded.filter(pl.col("table_name").is_not_null()).join(
        pl.concat(rows), on=keys, how="full", coalesce=True
    )
    wrong = compared.filter(pl.col("rows_read").ne_missing(pl.col("kept_rows"))).sort("load_id", *keys)
    for row in wrong.iter_rows(named=True):
        says = (
            f"{row['table_name']}, {row['file']}: the kept feed {row['feed_hash'][:8]} has "
            f"{count(row['kept_rows'] or 0, 'row')}, load {row['load_id']} read {row['rows_read'] or 0}; {kept.advice}"
        )
        yield Finding("feed rows", ok=False, says=says)
    if wrong.is_empty():
        says = f"{count(int(compared['rows_read'].sum()), 'row')} of kept feeds, those the loads read"
        yield Finding("feed rows", ok=True, says=says)


def _kept_rows(data_dir: Path, name: str) -> pl.DataFrame:
    mapped, _ = read_feed(data_dir, name)
    schema = {"feed_hash": pl.String, "table_name": pl.String, "file": pl.String, "kept_rows": pl.Int64}
    counts = [
        frame.group_by("file")
        .agg(kept_rows=pl.len().cast(pl.Int64))
        .select(feed_hash=pl.lit(name), table_name=pl.lit(table), file="file", kept_rows="kept_rows")
        for table, frame in mapped.tables.items()
    ]
    return pl.concat([pl.DataFrame(schema=schema), *counts])


def _snapshots(data_dir: Path) -> Iterator[Finding]:
    folder = data_dir / "snapshots"
    pointer = folder / "LATEST"
    names = sorted(path.stem for path in folder.glob("*.duckdb"))
    if not names and not pointer.exists():
        yield Finding("snapshots", ok=True, says="none yet")
        return
    newest = pointer.read_text(encoding="utf-8", errors="replace").strip() if pointer.is_file() else ""
    if newest not in names:
        named = "LATEST is missing" if not newest else f"LATEST names {newest}, which is not there"
        yield Finding("snapshots", ok=False, says=f"{named}; run `wearledger analyse`")
    unreadable = [name for name in names if not _reads(folder / f"{name}.duckdb")]
    for name in unreadable:
        day = re.match(r"\d{4}-\d\d-\d\d", name)
        again = f"`wearledger analyse --as-of {day[0]}`" if day else "`wearledger analyse`"
        yield Finding("snapshots", ok=False, says=f"snapshot {name} cannot be read; write it anew with {again}")
    if newest in names and not unreadable:
        yield Finding("snapshots", ok=True, says=f"{len(names)} can be read, the newest is {newest}")


def _reads(path: Path) -> bool:
    """Whether every value of a snapshot can be read."""
    try:
        with duckdb.connect(str(path), read_only=True, config=CONFIG) as connection:
            for (name,) in connection.sql("select table_name from duckdb_tables()").fetchall():
                connection.sql(f"select bit_xor(hash(t)) from {quoted(name)} as t").fetchall()  # noqa: S608 - quoted
    except duckdb.Error as error:
        # one that this process has open under another configuration can be read
        return "different configuration" in str(error)
    return True


def _disk(data_dir: Path) -> Iterator[Finding]:
    if not data_dir.is_dir():
        return
    ledger = ledger_path(data_dir)
    needed = max(LEAST_FREE_BYTES, 3 * ledger.stat().st_size if ledger.exists() else 0)
    free = shutil.disk_usage(data_dir).free
    says = f"{free / 1e9:.1f} GB free" if free >= needed else f"only {free / 1e6:.0f} MB free; make room before loading"
    yield Finding("disk", ok=free >= needed, says=says)
