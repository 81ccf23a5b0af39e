"""Take at once the rows of a feed table that stand alone, part by part; keep back those to be held against others."""

from __future__ import annotations

from dataclasses import dataclass, field
from string import Template
from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.queries import insert, query
from analytics.ledger.schema import quoted

if TYPE_CHECKING:
    import duckdb

    from analytics.records.table import Column, Table

WITH_CAR = ("repairs", "readings", "fitted", "sales")
INFERRED = "inferred"
ROW_GROUP = 122_880
"""Rows that DuckDB compresses together: a transaction that brings them in such numbers writes none of them twice."""


@dataclass(slots=True)
class Pending:
    """New rows of a table that wait to be stored with others."""

    rows: list[pl.DataFrame] = field(default_factory=list)

    @property
    def height(self) -> int:
        """Number of rows that wait."""
        return sum(frame.height for frame in self.rows)


def numbered(table: Table) -> bool:
    """Return whether equal rows are several rows: where all columns are the key."""
    return set(table.key) == set(table.names)


def row_statement(file: str, table: Table) -> str:
    """Return ``sql/per_table/<file>.sql`` for one feed table, with what its rows are known by.

    Parameters
    ----------
    file
        File name without suffix.
    table
        Declared feed table.

    Notes
    -----
    The content is the row as a JSON array, so that no two rows have one content.
    """
    content = ", ".join(quoted(name) for name in (*table.names, INFERRED))
    car = "l.vehicle_id not in (select vehicle_id from known_car)" if table.name in WITH_CAR else "false"
    return Template(query(f"per_table/{file}")).safe_substitute(
        revision=quoted(f"{table.name}_revision"),
        text="'" + table.name.replace("'", "''") + "'",
        key=", ".join(_key_piece(table.column(name)) for name in table.key),
        content=f"json_array({content})::varchar",
        first="'#1'" if numbered(table) else "''",
        unknown_car=f"coalesce({car}, false)",
    )


def _key_piece(column: Column) -> str:
    text = f"{quoted(column.name)}::varchar"
    if column.default is None:
        return text
    return f"coalesce({text}, '{column.default}')"


def begin(connection: duckdb.DuckDBPyConnection, table: Table) -> None:
    """Keep what the ledger holds of a table before a feed is taken: keys, cars, rows waiting to be mended.

    Parameters
    ----------
    connection
        Ledger open for writing.
    table
        Declared feed table.
    """
    connection.execute(row_statement("held_key", table))
    connection.execute(row_statement("open_row", table))
    connection.execute(row_statement("doubtful", table))
    connection.execute("create or replace temp table known_car as select distinct vehicle_id from vehicles")


def waits(connection: duckdb.DuckDBPyConnection, table: Table, part: pl.DataFrame) -> pl.Series:
    """Return the ``n`` of rows that an open row of the quarantine may be mended by: the same place, or the same key.

    Parameters
    ----------
    connection
        After `begin`.
    table
        Declared feed table.
    part
        Rows as read, with ``n``.
    """
    absent = [pl.lit(None, dtype=pl.String).alias(name) for name in table.key if name not in part.columns]
    connection.register("key_in", part.with_columns(absent).select("n", "file", "row_no", *table.key))
    found: pl.DataFrame = connection.sql(row_statement("waiting", table)).pl()
    return found["n"]


def place(
    connection: duckdb.DuckDBPyConnection,
    table: Table,
    accepted: pl.DataFrame,
    aside: pl.DataFrame,
    pending: Pending,
    load_id: int,
) -> pl.DataFrame:
    """Take the rows of one part that are new and stand alone, and store the values set aside of them.

    Parameters
    ----------
    connection
        After `begin`.
    table
        Declared feed table.
    accepted
        Typed columns, ``inferred``, ``n``, ``file``, ``row_no``, ``quarantine_id``, ``feed_source``, and ``shared``:
        whether other rows may have a claim on the same key; in order of ``n``.
    aside
        Values set aside: ``n``, ``column_name``, ``value``, ``says``.
    pending
        The new rows are added here; `store_pending` stores them.
    load_id
        Number of the load.

    Returns
    -------
    DataFrame
        ``n``, ``file``, ``verdict``: new, unchanged, or doubtful (left in the temporary table ``doubtful``).
    """
    connection.register("accepted_in", accepted)
    connection.execute(row_statement("placed", table))
    connection.unregister("accepted_in")
    verdicts: pl.DataFrame = connection.sql(query("per_table/verdicts")).pl()
    known = pl.concat([accepted.drop("shared"), verdicts.drop("n", "file")], how="horizontal")
    new = known.filter(verdict="new")
    if new.height:
        pending.rows.append(new.drop("n", "quarantine_id", "key_text", "verdict"))
    doubtful = known.filter(verdict="doubtful")
    if doubtful.height:
        connection.register("doubtful_in", doubtful.drop("row_key", "verdict"))
        connection.execute(query("per_table/keep_back"))
        connection.unregister("doubtful_in")
    if aside.height:
        connection.register("set_aside_in", aside)
        insert(connection, "set_aside", "set_aside_placed", table=table.name, load_id=load_id)
    return verdicts.select("n", "file", "verdict")


def store_pending(
    connection: duckdb.DuckDBPyConnection, table: Table, pending: Pending, load_id: int, *, rest: bool = False
) -> None:
    """Store waiting rows: as many whole row groups as there are, or all.

    Parameters
    ----------
    connection
        Ledger open for writing.
    table
        Declared feed table.
    pending
        Rows as `place` leaves them; what is stored is taken out.
    load_id
        Number of the load.
    rest
        Whether no more rows come, so that a part of a row group is stored too.
    """
    count = pending.height if rest else pending.height // ROW_GROUP * ROW_GROUP
    if not count:
        return
    rows = pl.concat(pending.rows)
    pending.rows = [rows.slice(count)] if count < rows.height else []
    connection.register("new_in", rows.head(count))
    connection.execute(row_statement("insert_placed", table), {"load_id": load_id})
    connection.unregister("new_in")
