"""Take at once the rows of a feed table that stand alone, part by part; keep back those to be held against others."""

from __future__ import annotations

from dataclasses import dataclass, field
from string import Template
from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.queries import Frames, insert, query
from analytics.ledger.schema import quoted, statement

if TYPE_CHECKING:
    from concurrent.futures import Executor, Future

    import duckdb

    from analytics.records.table import Column, Table

WITH_CAR = ("repairs", "readings", "fitted", "sales")
INFERRED = "inferred"
ROW_GROUP = 122_880
"""Rows that DuckDB compresses together: a transaction that brings them in such numbers writes none of them twice."""


@dataclass(slots=True)
class Placing:
    """One table being taken, part by part.

    Attributes
    ----------
    connection
        Ledger open for writing, after `begin`.
    table
        Declared feed table.
    load_id
        Number of the load.
    frames
        What the connection reads of the part.
    pool
        One thread, in which rows are stored while the next part is judged.
    waiting
        New rows that wait to be stored with others.
    storing
        What is being stored; nothing else may ask the connection meanwhile.
    """

    connection: duckdb.DuckDBPyConnection
    table: Table
    load_id: int
    frames: Frames
    pool: Executor
    waiting: list[pl.DataFrame] = field(default_factory=list)
    storing: Future[object] | None = None

    def settle(self) -> None:
        """Wait until rows that are being stored are stored."""
        if self.storing is not None:
            self.storing.result()
            self.storing = None


def numbered(table: Table) -> bool:
    """Return whether equal rows are several rows: where all columns are the key."""
    return set(table.key) == set(table.names)


def row_statement(file: str, table: Table) -> str:
    """Return the `statement` of a file for one feed table, with what its rows are known by.

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
    return Template(statement(file, table)).safe_substitute(
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


def known_by(
    frames: Frames, connection: duckdb.DuckDBPyConnection, table: Table, accepted: pl.DataFrame
) -> pl.DataFrame:
    """Return accepted rows with what they are known by: the same for the same values, whatever the ledger holds.

    Parameters
    ----------
    frames, connection
        A database of its own, so that it can be asked while rows are stored.
    table
        Declared feed table.
    accepted
        Typed columns and ``inferred``.

    Returns
    -------
    DataFrame
        ``accepted`` with ``key_text``, the key as a JSON array, and ``content_hash``, of all it says.
    """
    frames.show("judged_in", accepted.select(*table.names, INFERRED))
    known: pl.DataFrame = connection.sql(row_statement("known_by", table)).pl()
    return pl.concat([accepted, known], how="horizontal")


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


def waits(placing: Placing, part: pl.DataFrame) -> pl.Series:
    """Return the ``n`` of rows that an open row of the quarantine may be mended by: the same place, or the same key.

    Parameters
    ----------
    placing
        The table being taken.
    part
        Rows as read, with ``n``.
    """
    placing.settle()
    table = placing.table
    absent = [pl.lit(None, dtype=pl.String).alias(name) for name in table.key if name not in part.columns]
    placing.frames.show("key_in", part.with_columns(absent).select("n", "file", "row_no", *table.key))
    found: pl.DataFrame = placing.connection.sql(row_statement("waiting", table)).pl()
    return found["n"]


def place(placing: Placing, accepted: pl.DataFrame, aside: pl.DataFrame) -> pl.DataFrame:
    """Take the rows of one part that are new and stand alone, and store the values set aside of them.

    Parameters
    ----------
    placing
        The table being taken; new rows wait there until `store` stores them.
    accepted
        As `known_by` gives them, with ``n``, ``file``, ``row_no``, ``quarantine_id``, ``feed_source``, and ``shared``:
        whether other rows may have a claim on the same key; in order of ``n``.
    aside
        Values set aside: ``n``, ``column_name``, ``value``, ``says``.

    Returns
    -------
    DataFrame
        ``n``, ``file``, ``row_key``, ``verdict``: new, unchanged, or doubtful (left in the temporary table
        ``doubtful``).
    """
    placing.settle()
    connection, frames = placing.connection, placing.frames
    frames.show("accepted_in", accepted)
    told: pl.DataFrame = connection.sql(row_statement("placed", placing.table)).pl()
    known = pl.concat([accepted.drop("shared"), told.drop("n")], how="horizontal")
    new = known.filter(verdict="new")
    if new.height:
        placing.waiting.append(new.drop("n", "quarantine_id", "key_text", "verdict"))
    doubtful = known.filter(verdict="doubtful")
    if doubtful.height:
        frames.show("doubtful_in", doubtful.drop("row_key", "verdict"))
        connection.execute(query("per_table/keep_back"))
    if aside.height:
        frames.show("aside_in", aside)
        frames.show("placed", known.select("n", "file", "row_no", "feed_source", "verdict"))
        insert(connection, "set_aside", "set_aside_placed", table=placing.table.name, load_id=placing.load_id)
    return known.select("n", "file", "row_key", "verdict")


def store(placing: Placing, *, rest: bool = False) -> None:
    """Begin to store waiting rows: as many whole row groups as there are, or all.

    Parameters
    ----------
    placing
        The table being taken; what is stored is taken out.
    rest
        Whether no more rows come, so that a part of a row group is stored too.
    """
    height = sum(frame.height for frame in placing.waiting)
    count = height if rest else height // ROW_GROUP * ROW_GROUP
    if not count:
        return
    rows = pl.concat(placing.waiting)
    placing.waiting = [rows.slice(count)] if count < height else []
    # one piece of memory: pieces are stored as small row groups, which a checkpoint writes again
    whole = rows.head(count).rechunk()
    placing.settle()
    placing.frames.show("new_in", whole)
    insertion = row_statement("insert_placed", placing.table)
    placing.storing = placing.pool.submit(placing.connection.execute, insertion, {"load_id": placing.load_id})
