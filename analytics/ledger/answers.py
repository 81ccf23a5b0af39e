"""What an open ledger tells about itself: last day, content, loads, settings, values set aside."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from analytics.ledger.queries import answer, query

if TYPE_CHECKING:
    from datetime import date

    import duckdb
    import polars as pl


def default_as_of(connection: duckdb.DuckDBPyConnection) -> date | None:
    """Return the latest day a job was closed, an odometer read or stock counted (rule 6); None = nothing is dated.

    Parameters
    ----------
    connection
        Open ledger.

    Notes
    -----
    Never today by itself; a row dated after the day it was loaded waits in quarantine.
    """
    found: date | None = connection.sql(query("latest_day")).fetchall()[0][0]
    return found


def ledger_hash(connection: duckdb.DuckDBPyConnection) -> str:
    """Return a hash over rows that count, open quarantine, settings and loads, whatever their order; 64 hex digits.

    Parameters
    ----------
    connection
        Open ledger.
    """
    return str(connection.sql(query("content")).fetchall()[0][0])


def loads(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return one row per load not undone: load_id, loaded_at, loaded_on, source, hashes, files and counts."""
    return answer(connection, "loads", feed_hash="")


def settings(connection: duckdb.DuckDBPyConnection) -> dict[str, Any]:
    """Return what the mappings state of service level, review days, units and currency; the newest load wins."""
    return {name: json.loads(value) for name, value in answer(connection, "setting_newest").rows()}


def set_aside_rows(connection: duckdb.DuckDBPyConnection) -> pl.DataFrame:
    """Return one row per value set aside in a row that counts: table, file, row_no, column, value, says, source."""
    return answer(connection, "set_aside_rows")
