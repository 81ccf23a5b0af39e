"""Take a mapped feed into an open ledger, inside the caller's transaction."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import count
from analytics.ledger.answers import default_as_of
from analytics.ledger.feeds import text_hash
from analytics.ledger.judging import ORDERS, Run, check_identity, judge_table
from analytics.ledger.quarantine import rows_waiting
from analytics.ledger.queries import answer, insert, keep, query
from analytics.ledger.report import COUNTS, LoadReport, early_jobs, odd_quantities
from analytics.ledger.schema import statement
from analytics.parameters import Parameters
from analytics.records.feed import FEED
from analytics.records.parts import Parts, rows_of

if TYPE_CHECKING:
    from collections.abc import Callable

    import duckdb

    from analytics.records import MappedFeed
    from analytics.records.table import Table

SETTING = {"name": pl.String, "value": pl.String}
MISSING = {
    "record_id": pl.String,
    "line_no": pl.Int64,
    "vehicle_id": pl.String,
    "closed_on": pl.Date,
    "component": pl.String,
    "load_id": pl.Int64,
    "file": pl.String,
    "row_no": pl.Int64,
}
"""Columns of ``missing.sql``."""

MEMORY = "192MiB"
"""What the database may take for a load of any size; beyond it, it writes beside the ledger."""

FORMED_BY_MAPPING = {ORDERS: ("record_id", "line_no")}
"""Columns a mapping may form from others: they change with it while the row in the file is the same."""


@dataclass(frozen=True, slots=True)
class Delivery:
    """A mapped feed and how it came.

    Attributes
    ----------
    mapped
        The feed after its mapping.
    feed_hash
        Gives the hash under which it is kept; asked for once all rows are judged, so that both may go on at once.
    mapping_text
        The mapping file, empty for a native feed.
    loaded_on
        Day of loading.
    complete
        Whether it holds everything its source has.
    """

    mapped: MappedFeed
    feed_hash: Callable[[], str]
    mapping_text: str
    loaded_on: date
    complete: bool


def kept_as(feed_hash: str) -> Callable[[], str]:
    """Return what a `Delivery` asks for its hash where that is known before."""
    return lambda: feed_hash


def take(
    connection: duckdb.DuckDBPyConnection, delivery: Delivery, say: Callable[[str], None]
) -> tuple[LoadReport, bool]:
    """Judge and store a feed under the next load number.

    Parameters
    ----------
    connection
        Ledger open for writing, in a transaction that the caller ends.
    delivery
        The feed.
    say
        Called with a sentence before each table.

    Returns
    -------
    tuple of LoadReport and bool
        What it did, and whether the ledger held all of it before.

    Raises
    ------
    LedgerError
        If the rows of a file are not all accounted for.
    """
    mapped = delivery.mapped
    connection.execute(f"set memory_limit = '{MEMORY}'")
    load_id = connection.sql("select coalesce(max(load_id), 0) + 1 from load").fetchall()[0][0]
    waiting = frozenset(table for (table,) in connection.sql(query("waiting")).fetchall())
    run = Run(connection, load_id, mapped.source, mapped.settings, delivery.loaded_on, delivery.complete, waiting)
    connection.execute("create or replace temp table brought (row_key varchar)")
    for name, table in FEED.items():
        rows = rows_of(mapped.tables, name) if name in mapped.tables else Parts()
        if rows.height:
            say(f"{name}: {count(rows.height, 'row')}")
            judge_table(run, table, rows)
            _store(run, table)
    check_identity(answer(connection, "load_counts", load_id=load_id))
    known = not answer(connection, "loads", feed_hash=delivery.feed_hash()).is_empty()
    report = _report(run, delivery)
    _write_load(run, report, delivery)
    changed = connection.sql(query("changed"), params={"load_id": load_id}).fetchall()[0][0]
    return report, known and not changed


def now() -> datetime:
    """Return this instant in UTC, as the ledger stores it: when a row was written, never part of an analysis."""
    return datetime.now(UTC).replace(tzinfo=None)


def insert_frame(connection: duckdb.DuckDBPyConnection, table: str, rows: pl.DataFrame) -> None:
    """Insert a small frame into one of the ledger's own tables, by column name."""
    connection.register("frame_in", rows)
    connection.execute(f"insert into {table} by name select * from frame_in")  # noqa: S608 - a name of ours
    connection.unregister("frame_in")


def _store(run: Run, table: Table) -> None:
    connection, load_id = run.connection, run.load_id
    named = {"table": table.name}
    blank = json.dumps(dict.fromkeys(FORMED_BY_MAPPING.get(table.name, ())))
    connection.execute(statement("insert", table), {"load_id": load_id})
    if table.name in run.waiting:
        keep(connection, "mended_text", "quarantine_in_text", **named)
        keep(connection, "mended", "quarantine_mended", **named, blank=blank)
        insert(connection, "quarantine_end", "quarantine_ended", **named, load_id=load_id, ended_at=now())
    insert(connection, "quarantine_row", "quarantine_new", **named, load_id=load_id, key=list(table.key))
    insert(connection, "set_aside", "set_aside_new", **named, load_id=load_id)
    insert(connection, "load_file", "counted", **named, load_id=load_id)
    if run.complete and table.name == ORDERS:
        insert(connection, "brought", "brought")


def _write_load(run: Run, report: LoadReport, delivery: Delivery) -> None:
    row = {
        "load_id": run.load_id,
        "loaded_at": now(),
        "loaded_on": run.loaded_on,
        "source": run.source,
        "feed_hash": report.feed_hash,
        "mapping_hash": text_hash(delivery.mapping_text),
        "files": json.dumps(delivery.mapped.files),
        "complete": delivery.complete,
        "to_quarantine": report.quarantined.height,
        **{name: report.count(name) for name in COUNTS},
    }
    stated = {name: json.dumps(value) for name, value in run.settings.items()}
    settings = pl.DataFrame({"name": [*stated], "value": [*stated.values()]}, schema_overrides=SETTING)
    insert_frame(run.connection, "load", pl.DataFrame([row]))
    insert_frame(run.connection, "setting", settings.with_columns(load_id=pl.lit(run.load_id)))


def _report(run: Run, delivery: Delivery) -> LoadReport:
    connection, load_id = run.connection, run.load_id
    ended = answer(connection, "ended_by", load_id=load_id)
    missing = answer(connection, "missing", source=run.source) if run.complete else pl.DataFrame(schema=MISSING)
    waiting = answer(connection, "quarantine_rows")
    return LoadReport(
        load_id=load_id,
        source=run.source,
        loaded_on=run.loaded_on,
        feed_hash=delivery.feed_hash(),
        files=answer(connection, "load_counts", load_id=load_id).rename({"table_name": "table"}),
        quarantined=waiting.filter(pl.col("load_id") == load_id),
        set_aside=answer(connection, "set_aside_rows", load_id=load_id),
        missing=missing,
        mended=int((ended["status"] == "mended").sum()),
        replaced=int((ended["status"] == "withdrawn").sum()),
        waiting=rows_waiting(waiting),
        latest_day=default_as_of(connection),
        notes=delivery.mapped.notes,
        cautions=(
            *odd_quantities(answer(connection, "odd_quantity", load_id=load_id, **_odd())),
            *early_jobs(answer(connection, "early_job", load_id=load_id)),
        ),
    )


def _odd() -> dict[str, float]:
    """Return from where on a quantity is told as far above the usual ones."""
    said = Parameters()
    return {"times": said.odd_quantity_times, "least": said.odd_quantity_least, "others": said.odd_quantity_others}
