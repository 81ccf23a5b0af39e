"""Small ledgers by hand: an in-memory database with the ledger's views, from rows with defaults."""

from __future__ import annotations

from datetime import date
from typing import Any

import duckdb
import polars as pl

from analytics.records.feed import FEED

Row = dict[str, Any]
EXTRA = {"repairs": {"line_id": pl.String, "source": pl.String, "inferred": pl.String}}
"""Columns the ledger's views add: ``inferred`` on every table, ``source`` and ``line_id`` on repairs."""


def day(text: str | date) -> date:
    return text if isinstance(text, date) else date.fromisoformat(text)


def frame(name: str, rows: list[Row]) -> pl.DataFrame:
    table = FEED[name]
    extra = EXTRA.get(name, {"inferred": pl.String})
    schema = {**table.schema, **extra}
    defaults = {column.name: column.default for column in table.columns}
    filled = []
    for number, row in enumerate(rows, start=1):
        full: Row = {**dict.fromkeys(schema), **defaults, **row}
        if name == "repairs":
            full["record_id"] = full["record_id"] or f"R{number}"
            full["source"] = full["source"] or ""
            full["line_id"] = f"{full['record_id']}/{full['line_no']}"
        for column in table.columns:
            if column.kind == "date" and full[column.name] is not None:
                full[column.name] = day(full[column.name])
        filled.append({key: full[key] for key in schema})
    return pl.DataFrame(filled, schema=schema)


def ledger_of(**tables: list[Row]) -> duckdb.DuckDBPyConnection:
    """Return a connection that looks like an open ledger: one table per feed table, ``seen`` and ``same_now``.

    ``seen`` holds quarantined lines whose car and day are readable: vehicle_id, day, planned, line_id.
    ``same_now`` holds what a person said to be one name: kind, old_name, new_name.
    """
    connection = duckdb.connect(":memory:")
    for name in FEED:
        rows = frame(name, tables.get(name, []))
        connection.register("rows_in", rows)
        connection.execute(f"create table {name} as select * from rows_in")
        connection.unregister("rows_in")
    seen = pl.DataFrame(
        tables.get("seen", []),
        schema={"vehicle_id": pl.String, "day": pl.Date, "planned": pl.Boolean, "line_id": pl.String},
    )
    connection.register("rows_in", seen)
    connection.execute("create table seen as select * from rows_in")
    connection.unregister("rows_in")
    same = pl.DataFrame(
        tables.get("same_now", []), schema={"kind": pl.String, "old_name": pl.String, "new_name": pl.String}
    )
    connection.register("rows_in", same)
    connection.execute("create table same_now as select * from rows_in")
    connection.unregister("rows_in")
    return connection
