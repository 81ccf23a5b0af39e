"""Load a mapped feed: one transaction, all or nothing; the same feed again changes nothing."""

from __future__ import annotations

import json
import threading
from dataclasses import replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.connect import open_ledger
from analytics.ledger.feeds import keep_feed, text_hash
from analytics.ledger.judging import ORDERS, Run, check_identity, judge_table
from analytics.ledger.queries import answer, insert, keep, query
from analytics.ledger.report import COUNTS, LoadReport
from analytics.ledger.schema import statement
from analytics.records.feed import FEED

if TYPE_CHECKING:
    from collections.abc import Callable
    from datetime import date
    from pathlib import Path

    import duckdb

    from analytics.records import MappedFeed
    from analytics.records.table import Table

WRITING = threading.Lock()
"""One load at a time within this process; between processes the file's own lock holds."""

SETTING = {"name": pl.String, "value": pl.String}
FORMED_BY_MAPPING = {ORDERS: ("record_id", "line_no")}


def load(
    data_dir: Path,
    mapped: MappedFeed,
    *,
    loaded_on: date,
    mapping_text: str = "",
    complete: bool = False,
    progress: Callable[[str], None] | None = None,
) -> LoadReport:
    """Take a mapped feed into the ledger.

    Parameters
    ----------
    data_dir
        Data folder; a ledger is built where there is none.
    mapped
        The feed after its mapping.
    loaded_on
        Day of loading; a job closed after it goes to quarantine (rule 3).
    mapping_text
        The mapping file, kept with the feed.
    complete
        Whether the feed holds everything its source has; lines no longer there are listed, not withdrawn (rule 4).
    progress
        Called with a sentence before each table.

    Returns
    -------
    LoadReport
        Counts, and what went to quarantine or was set aside.

    Raises
    ------
    LedgerError
        If another process holds the ledger, or the ledger is damaged; nothing was loaded then.

    Notes
    -----
    The mapped rows are kept in ``feeds`` first. A process killed at any moment leaves the ledger as it was before
    or as it is after, and the feed whole or not there.
    """
    with WRITING, open_ledger(data_dir, write=True) as connection:
        feed_hash = keep_feed(data_dir, mapped, mapping_text)
        load_id = connection.sql("select coalesce(max(load_id), 0) + 1 from load").fetchall()[0][0]
        run = Run(connection, load_id, mapped.source, mapped.settings, loaded_on)
        connection.begin()
        try:
            apply_tables(run, mapped.tables, progress or (lambda _: None))
            missing = answer(connection, "missing", source=mapped.source) if complete else _no_lines(connection)
            report = _report(run, mapped, feed_hash, missing)
            if changed(run) or not _known(connection, feed_hash):
                write_load(run, report, mapped.files, text_hash(mapping_text), complete=complete)
                connection.commit()
            else:
                connection.rollback()
                report = replace(report, load_id=None)
        except BaseException:
            connection.rollback()
            raise
    return report


def apply_tables(run: Run, tables: dict[str, pl.DataFrame], say: Callable[[str], None]) -> None:
    """Judge and store the tables of a feed, cars first.

    Parameters
    ----------
    run
        The load under way.
    tables
        Mapped rows by native table.
    say
        Called with a sentence before each table.

    Raises
    ------
    LedgerError
        If the rows of a file are not all accounted for.
    """
    run.connection.execute("create or replace temp table brought (row_key varchar)")
    for name, table in FEED.items():
        if name in tables and tables[name].height:
            say(f"{name}: {tables[name].height} rows")
            judge_table(run, table, tables[name])
            _store(run, table)
    check_identity(answer(run.connection, "load_counts", load_id=run.load_id))


def changed(run: Run) -> bool:
    """Whether this load brought anything the ledger did not hold."""
    return bool(run.connection.sql(query("changed"), params={"load_id": run.load_id}).fetchall()[0][0])


def write_load(
    run: Run, report: LoadReport, files: tuple[tuple[str, str], ...], mapping_hash: str, *, complete: bool
) -> None:
    """Write the load itself and the settings of its mapping.

    Parameters
    ----------
    run, report
        The load under way and what it did.
    files
        Names and hashes of the original files.
    mapping_hash
        Hash of the mapping's text.
    complete
        As told to `load`.
    """
    row = {
        "load_id": run.load_id,
        "loaded_at": datetime.now(UTC).replace(tzinfo=None),
        "loaded_on": run.loaded_on,
        "source": run.source,
        "feed_hash": report.feed_hash,
        "mapping_hash": mapping_hash,
        "files": json.dumps(files),
        "complete": complete,
        **{name: report.count(name) for name in COUNTS},
    }
    stated = {name: json.dumps(value) for name, value in run.settings.items()}
    settings = pl.DataFrame({"name": [*stated], "value": [*stated.values()]}, schema_overrides=SETTING)
    _insert_frame(run.connection, "load", pl.DataFrame([row]))
    _insert_frame(run.connection, "setting", settings.with_columns(load_id=pl.lit(run.load_id)))


def _store(run: Run, table: Table) -> None:
    connection, load_id = run.connection, run.load_id
    named = {"table": table.name}
    blank = json.dumps(dict.fromkeys(FORMED_BY_MAPPING.get(table.name, ())))
    connection.execute(statement("insert", table), {"load_id": load_id})
    keep(connection, "mended", "quarantine_mended", **named, blank=blank)
    ended_at = datetime.now(UTC).replace(tzinfo=None)
    insert(connection, "quarantine_end", "quarantine_ended", **named, load_id=load_id, ended_at=ended_at)
    insert(connection, "quarantine_row", "quarantine_new", **named, load_id=load_id, key=list(table.key))
    insert(connection, "set_aside", "set_aside_new", **named, load_id=load_id)
    insert(connection, "load_file", "counted", **named, load_id=load_id)
    if table.name == ORDERS:
        keep(connection, "brought", "brought")


def _known(connection: duckdb.DuckDBPyConnection, feed_hash: str) -> bool:
    return not answer(connection, "loads", feed_hash=feed_hash).is_empty()


def _report(run: Run, mapped: MappedFeed, feed_hash: str, missing: pl.DataFrame) -> LoadReport:
    connection, load_id = run.connection, run.load_id
    ended = answer(connection, "ended_by", load_id=load_id)
    return LoadReport(
        load_id=load_id,
        source=run.source,
        loaded_on=run.loaded_on,
        feed_hash=feed_hash,
        files=answer(connection, "load_counts", load_id=load_id).rename({"table_name": "table"}),
        quarantined=answer(connection, "quarantine_rows").filter(pl.col("load_id") == load_id),
        set_aside=answer(connection, "set_aside_rows").filter(pl.col("load_id") == load_id),
        missing=missing,
        mended=int((ended["status"] == "mended").sum()),
        replaced=int((ended["status"] == "withdrawn").sum()),
        notes=mapped.notes,
    )


def _no_lines(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    return answer(connection, "missing", source="").clear()


def _insert_frame(connection: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    connection.register("frame_in", rows)
    connection.execute(f"insert into {table} by name select * from frame_in")  # noqa: S608 - a name of ours
    connection.unregister("frame_in")
