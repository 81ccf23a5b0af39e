"""Have the rows of one table judged, each under the settings it was first read with, and compare with the ledger."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.errors import LedgerError
from analytics.ledger.queries import answer, keep
from analytics.parameters import Parameters
from analytics.records import judge
from analytics.records.blocks import UNREAD_TEXT
from analytics.records.mapped import CARRIED

if TYPE_CHECKING:
    from datetime import date

    import duckdb

    from analytics.records import Judged
    from analytics.records.table import Table

WITH_CAR = ("repairs", "readings", "fitted", "sales")
ORDERS = "repairs"


@dataclass(frozen=True, slots=True)
class Run:
    """One load under way.

    Attributes
    ----------
    connection
        Ledger open for writing, inside a transaction.
    load_id
        Number of the load.
    source, settings
        Of the mapped feed.
    loaded_on
        Day of loading.
    """

    connection: duckdb.DuckDBPyConnection
    load_id: int
    source: str
    settings: dict[str, Any]
    loaded_on: date


def judge_table(run: Run, table: Table, rows: pl.DataFrame) -> None:
    """Judge one table of a feed and leave the outcome in temporary tables.

    Parameters
    ----------
    run
        The load under way.
    table
        Declared feed table.
    rows
        Mapped rows: native columns as text, ``file``, ``row_no``, and ``quarantine_id`` on a quarantine sheet.

    Notes
    -----
    Leaves ``accepted_in`` (typed rows), ``read_row`` (rows as read), ``decided`` (what becomes of each accepted row),
    ``refused`` (rows that go to quarantine) and ``set_aside_in`` (values). All name a row by ``n``, its place in
    `rows`, because a file's row may have become several.
    """
    connection = run.connection
    placed = _with_provenance(run, table, rows)
    found = [_judge(run, table, part) for part in placed.partition_by("settings_load")]
    owners = placed.select("n", "file", "row_no", CARRIED, "feed_source")
    accepted = pl.concat([each.accepted for each in found]).select(
        *table.names, "inferred", n=pl.col("row_no").cast(pl.Int64)
    )
    connection.register("accepted_in", accepted.join(owners, on="n", how="left").sort("n"))
    native = [name for name in (*table.names, UNREAD_TEXT) if name in placed.columns]
    connection.register("text_in", placed.select(*owners.columns, "settings_load", *native))
    key = {"paths": [f"$.{name}" for name in table.key], "defaults": json.dumps(_defaults(table))}
    keep(connection, "read_row", "read_row", **key)
    keep(connection, "incoming", "incoming", **key, numbered=set(table.key) == set(table.names))
    keep(
        connection,
        "compared",
        "compared",
        latest=f"{table.name}_latest",
        revisions=f"{table.name}_revision",
        current=f"{table.name}_current",
        has_car=table.name in WITH_CAR,
    )
    renumber_days = Parameters().renumber_days
    keep(connection, "decided", "decide", is_order=table.name == ORDERS, renumber_days=renumber_days)
    keep(connection, "clash", "refused", key=", ".join(table.key))
    _keep_refusals(connection, found)


def check_identity(counted: pl.DataFrame) -> None:
    """Check that every row read is accounted for, once.

    Parameters
    ----------
    counted
        rows_read, accepted, unchanged, revised, quarantined per table and file.

    Raises
    ------
    LedgerError
        If rows read are not accepted + unchanged + revised + quarantined.
    """
    told = pl.sum_horizontal("accepted", "unchanged", "revised", "quarantined")
    wrong = counted.filter(pl.col("rows_read") != told)
    if wrong.height:
        first = wrong.row(0, named=True)
        raise LedgerError(
            f"of {first['rows_read']} rows read {first['accepted']} are new, {first['unchanged']} unchanged, "
            f"{first['revised']} revised and {first['quarantined']} quarantined, which does not add up; "
            "nothing was loaded",
            where=f"{first['table_name']}, {first['file']}",
            next_step="report this with the file; it is a fault of the program, not of the records",
        )


def _with_provenance(run: Run, table: Table, rows: pl.DataFrame) -> pl.DataFrame:
    """Add place, source and settings; a row of the quarantine sheet keeps those it had."""
    rows = rows.with_row_index("n").with_columns(pl.col("n").cast(pl.Int64))
    if CARRIED not in rows.columns:
        own = {"feed_source": pl.lit(run.source), "settings_load": pl.lit(run.load_id, dtype=pl.Int64)}
        return rows.with_columns(pl.lit(None, dtype=pl.Int64).alias(CARRIED), **own)
    held = answer(run.connection, "provenance", table=table.name)
    known = rows.with_columns(pl.col(CARRIED).cast(pl.Int64, strict=False)).join(held, on=CARRIED, how="left")
    return (
        known.sort("n")
        .with_columns(
            feed_source=pl.col("held_source").fill_null(run.source),
            settings_load=pl.col("held_settings").fill_null(run.load_id),
        )
        .drop("held_source", "held_settings")
    )


def _judge(run: Run, table: Table, part: pl.DataFrame) -> Judged:
    load_id = part["settings_load"][0]
    settings = run.settings if load_id == run.load_id else settings_of(run.connection, load_id)
    text = part.drop("row_no", CARRIED, "feed_source", "settings_load").rename({"n": "row_no"})
    return judge(table.name, text, loaded_on=run.loaded_on, settings=settings)


def settings_of(connection: duckdb.DuckDBPyConnection, load_id: int) -> dict[str, Any]:
    """Return the settings a load was read with."""
    stored = answer(connection, "setting_of", load_id=load_id)
    return {name: json.loads(value) for name, value in stored.rows()}


def _defaults(table: Table) -> dict[str, Any]:
    named = [table.column(name) for name in table.key]
    return {column.name: column.default for column in named if column.default is not None}


def _keep_refusals(connection: duckdb.DuckDBPyConnection, found: list[Judged]) -> None:
    refused = pl.concat([each.quarantined for each in found]).select(
        n=pl.col("row_no").cast(pl.Int64),
        contested=pl.lit(value=False),
        column_name=pl.col("column").fill_null(""),
        value=pl.col("value"),
        says=pl.col("says"),
        vehicle_id=pl.col("vehicle_id"),
        day=pl.col("day"),
        planned=pl.col("planned").fill_null(value=False),
    )
    connection.register("refused_in", refused)
    keep(connection, "refused", "refused_all")
    aside = pl.concat([each.set_aside for each in found]).select(
        n=pl.col("row_no").cast(pl.Int64), column_name="column", value="value", says="says"
    )
    connection.register("set_aside_in", aside)
