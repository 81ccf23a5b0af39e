"""Examine the files of a data folder beside the ledger itself: its log, the kept feeds, the snapshots, the disk."""

from __future__ import annotations

import re
import shutil
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from analytics.counting import count
from analytics.ledger.connect import CONFIG, ledger_path
from analytics.ledger.feeds import feeds_dir, read_feed
from analytics.ledger.finding import Finding
from analytics.ledger.kept import Kept, remedy, stray_feeds
from analytics.ledger.schema import quoted

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LEAST_FREE_BYTES = 200_000_000
"""A load or an analysis may need so much room beside what is there, and three times the ledger where that is more."""


def left_log(data_dir: Path) -> Iterator[Finding]:
    """Say what a process left that ended early."""
    log = ledger_path(data_dir).with_suffix(".duckdb.wal")
    if log.exists():
        size = log.stat().st_size
        says = (
            f"{size} bytes are left of a process that ended early; they are read with the ledger, "
            "and the comparison with the kept feeds shows whether they are whole"
        )
        yield Finding("log", ok=True, says=says)


def kept_feeds(data_dir: Path, kept: Kept, loaded: pl.DataFrame | None) -> Iterator[Finding]:
    """Say which kept feeds are whole, which are not and what puts them back, and whether they hold what was loaded.

    Parameters
    ----------
    data_dir
        Data folder.
    kept
        What was found of journal and kept feeds, those that the ledger names among them.
    loaded
        What the ledger tells of its loads; None = it cannot be read.
    """
    for name, says in kept.damage.items():
        if says:
            yield Finding("feeds", ok=False, says=f"{says}; {remedy(kept, name)}")
    if kept.damage and not any(kept.damage.values()):
        yield Finding("feeds", ok=True, says=f"{len(kept.damage)} kept feeds are there, every byte as written")
    for name in stray_feeds(data_dir, kept):
        says = (
            f"kept feed {name[:8]} is a leftover of a load that was stopped: the same file loaded again uses it, "
            f"and the folder {feeds_dir(data_dir) / name} can be deleted"
        )
        yield Finding("feeds", ok=True, says=says)
    if loaded is not None:
        whole = [name for name, says in kept.damage.items() if not says]
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


def snapshots(data_dir: Path) -> Iterator[Finding]:
    """Say whether every snapshot can be read, and the newest one is named."""
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


def disk(data_dir: Path) -> Iterator[Finding]:
    """Say whether there is room for the next load or analysis."""
    if not data_dir.is_dir():
        return
    ledger = ledger_path(data_dir)
    snapshots = [path.stat().st_size for path in (data_dir / "snapshots").glob("*.duckdb")]
    needed = max(LEAST_FREE_BYTES, 3 * ledger.stat().st_size if ledger.exists() else 0) + max(snapshots, default=0)
    free = shutil.disk_usage(data_dir).free
    says = (
        f"{free / 1e9:,.1f} GB free; the next load or analysis may need {needed / 1e9:,.1f} GB"
        if free >= needed
        else f"only {free / 1e6:,.0f} MB free, and the next load or analysis may need {needed / 1e6:,.0f} MB: "
        "make room first, or move the data folder to another disk and name it with --data"
    )
    yield Finding("disk", ok=free >= needed, says=says)
