"""Take at once the rows of a feed table that stand alone, part by part; keep back those to be held against others."""

from __future__ import annotations

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
    The content names every column that holds something before its value, so that a column added to the feed later
    changes no hash; texts are preceded by their length, so that no two rows have one content.
    """
    named = [(column.name, column.kind == "text") for column in table.columns]
    car = "l.vehicle_id not in (select vehicle_id from known_car)" if table.name in WITH_CAR else "false"
    return Template(query(f"per_table/{file}")).safe_substitute(
        revision=quoted(f"{table.name}_revision"),
        text="'" + table.name.replace("'", "''") + "'",
        key=", ".join(_key_piece(table.column(name)) for name in table.key),
        content=", ".join(_content_piece(name, is_text=text) for name, text in [*named, (INFERRED, True)]),
        first="'#1'" if numbered(table) else "''",
        unknown_car=f"coalesce({car}, false)",
    )


def _key_piece(column: Column) -> str:
    text = f"{quoted(column.name)}::varchar"
    if column.default is None:
        return text
    return f"coalesce({text}, '{column.default}')"


def _content_piece(name: str, *, is_text: bool) -> str:
    value = quoted(name)
    return f"'{name}:' || strlen({value}) || ':' || {value}" if is_text else f"'{name}:' || {value}::varchar || ';'"


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
    connection: duckdb.DuckDBPyConnection, table: Table, accepted: pl.DataFrame, aside: pl.DataFrame, load_id: int
) -> pl.DataFrame:
    """Store the rows of one part that are new and stand alone, and the values set aside of them.

    Parameters
    ----------
    connection
        After `begin`.
    table
        Declared feed table.
    accepted
        Typed columns, ``inferred``, ``n``, ``file``, ``row_no``, ``quarantine_id``, ``feed_source``, and ``shared``:
        whether other rows may have a claim on the same key.
    aside
        Values set aside: ``n``, ``column_name``, ``value``, ``says``.
    load_id
        Number of the load.

    Returns
    -------
    DataFrame
        ``n``, ``file``, ``verdict``: new (stored), unchanged, or doubtful (left in the temporary table ``doubtful``).
    """
    connection.register("accepted_in", accepted)
    connection.execute(row_statement("placed", table))
    connection.execute(row_statement("insert_placed", table), {"load_id": load_id})
    connection.execute(query("per_table/keep_back"))
    if aside.height:
        connection.register("set_aside_in", aside)
        insert(connection, "set_aside", "set_aside_placed", table=table.name, load_id=load_id)
    verdicts: pl.DataFrame = connection.sql(query("per_table/verdicts")).pl()
    return verdicts
