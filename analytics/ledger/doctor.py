"""Examine a data folder: whether everything that was loaded is still there, byte for byte and row for row."""

from __future__ import annotations

import shutil
from dataclasses import dataclass
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from analytics.errors import LedgerError
from analytics.ledger.connect import CONFIG, damaged, ledger_path, open_ledger
from analytics.ledger.feeds import feed_damage, feeds_dir, read_feed
from analytics.ledger.quarantine import quarantine_rows
from analytics.ledger.queries import answer
from analytics.records.feed import FEED

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LEAST_FREE_BYTES = 200_000_000
"""Below this, or below three times the ledger, a load or an analysis may run out of room."""

REBUILD = "build the ledger again from the kept feeds: `wearledger rebuild`"


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was examined.

    Attributes
    ----------
    kind
        What: ``ledger``, ``log``, ``counts``, ``content``, ``feeds``, ``feed rows``, ``quarantine``, ``snapshots``,
        ``disk``.
    ok
        Whether it is as it should be.
    says
        What was seen, and what to do where it is not.
    """

    kind: str
    ok: bool
    says: str


def doctor(data_dir: Path) -> list[Finding]:
    """Examine ledger, kept feeds, snapshots and disk of a data folder; nothing is changed.

    Parameters
    ----------
    data_dir
        Data folder.

    Returns
    -------
    list of Finding
        At least one per kind that could be examined; one per fault.
    """
    found = [*_log(data_dir)]
    try:
        with open_ledger(data_dir, write=False) as connection:
            found.append(Finding("ledger", ok=True, says="opens, and its tables are those of this version"))
            for examine in (_counts, _content, _quarantine):
                found += examine(connection)
            found += _feeds(connection, data_dir)
    except LedgerError as error:
        found.append(Finding("ledger", ok=False, says=f"{error.what}; {error.next_step}"))
    except duckdb.Error as error:
        found.append(Finding("ledger", ok=False, says=damaged(ledger_path(data_dir), error).what + f"; {REBUILD}"))
    return [*found, *_snapshots(data_dir), *_disk(data_dir)]


def _log(data_dir: Path) -> Iterator[Finding]:
    log = ledger_path(data_dir).with_suffix(".duckdb.wal")
    if log.exists():
        size = log.stat().st_size
        says = (
            f"{size} bytes are left of a process that ended early; they are read with the ledger, "
            "and the comparison with the kept feeds shows whether they are whole"
        )
        yield Finding("log", ok=True, says=says)


def _counts(connection: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    faults = answer(connection, "doctor_counts")
    for load_id, table, what, counted, stored in faults.rows():
        says = f"load {load_id}, {table}: {what} should be {counted}, and {stored} are there; {REBUILD}"
        yield Finding("counts", ok=False, says=says)
    if faults.is_empty():
        total = connection.sql("select count(*), coalesce(sum(rows_read), 0)::bigint from load").fetchall()[0]
        yield Finding("counts", ok=True, says=f"{total[1]} rows read in {total[0]} loads are all accounted for")


def _content(connection: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    rows = 0
    wrong = False
    for name in FEED:
        held, changed = answer(connection, "doctor_content", revisions=f"{name}_revision").row(0)
        rows += held
        if changed:
            wrong = True
            says = f"{changed} rows of {name} are not what was loaded; {REBUILD}"
            yield Finding("content", ok=False, says=says)
    if not wrong:
        yield Finding("content", ok=True, says=f"{rows} rows hold what was loaded")


def _quarantine(connection: duckdb.DuckDBPyConnection) -> Iterator[Finding]:
    waiting = quarantine_rows(connection).height
    says = f"{waiting} rows wait to be mended: `wearledger quarantine`" if waiting else "nothing waits to be mended"
    yield Finding("quarantine", ok=True, says=says)


def _feeds(connection: duckdb.DuckDBPyConnection, data_dir: Path) -> Iterator[Finding]:
    loaded = answer(connection, "doctor_feeds")
    hashes = loaded["feed_hash"].unique(maintain_order=True).to_list()
    damage = {name: feed_damage(data_dir, name) for name in hashes}
    for says in damage.values():
        if says:
            yield Finding("feeds", ok=False, says=f"{says}; load the original file again, or restore a backup")
    folders = [folder.name for folder in feeds_dir(data_dir).glob("*") if folder.is_dir()]
    strays = sorted(name for name in folders if name not in damage and not name.startswith("."))
    for name in strays:
        says = f"kept feed {name[:8]} belongs to no load: a load ended early, or was lost; load the file again"
        yield Finding("feeds", ok=False, says=says)
    if not strays and not any(damage.values()):
        yield Finding("feeds", ok=True, says=f"{len(hashes)} kept feeds are there, every byte as written")
    whole = [name for name in hashes if not damage[name]]
    yield from _feed_rows(loaded.filter(pl.col("feed_hash").is_in(whole)), data_dir)


def _feed_rows(loaded: pl.DataFrame, data_dir: Path) -> Iterator[Finding]:
    kept = [_kept_rows(data_dir, name) for name in loaded["feed_hash"].unique(maintain_order=True)]
    if not kept:
        return
    keys = ["feed_hash", "table_name", "file"]
    compared = loaded.filter(pl.col("table_name").is_not_null()).join(
        pl.concat(kept), on=keys, how="full", coalesce=True
    )
    wrong = compared.filter(pl.col("rows_read").ne_missing(pl.col("kept_rows"))).sort("load_id", *keys)
    for row in wrong.iter_rows(named=True):
        says = (
            f"{row['table_name']}, {row['file']}: the kept feed {row['feed_hash'][:8]} has "
            f"{row['kept_rows'] or 0} rows, load {row['load_id']} read {row['rows_read'] or 0}; {REBUILD}"
        )
        yield Finding("feed rows", ok=False, says=says)
    if wrong.is_empty():
        says = f"{int(compared['rows_read'].sum())} rows of kept feeds are those the loads read"
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
    if not folder.is_dir():
        yield Finding("snapshots", ok=True, says="none yet")
        return
    pointer = folder / "LATEST"
    newest = pointer.read_text(encoding="utf-8").strip() if pointer.is_file() else ""
    names = sorted(path.stem for path in folder.glob("*.duckdb"))
    if newest not in names:
        says = f"LATEST names {newest or 'nothing'}, which is not there; run `wearledger analyse`"
        yield Finding("snapshots", ok=False, says=says)
    unreadable = [name for name in names if not _opens(folder / f"{name}.duckdb")]
    for name in unreadable:
        yield Finding("snapshots", ok=False, says=f"snapshot {name} cannot be read; analyse again as of its day")
    if newest in names and not unreadable:
        yield Finding("snapshots", ok=True, says=f"{len(names)} can be read, the newest is {newest}")


def _opens(path: Path) -> bool:
    try:
        with duckdb.connect(str(path), read_only=True, config=CONFIG) as connection:
            connection.sql("select count(*) from duckdb_tables()").fetchall()
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
