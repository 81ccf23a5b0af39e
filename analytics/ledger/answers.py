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
    """Return the latest day a job was closed, an odometer read, stock counted or a part sold (rule 6).

    Parameters
    ----------
    connection
        Open ledger.

    Returns
    -------
    date or None
        None = nothing is dated.

    Notes
    -----
    Never today by itself; a row dated after the day it was loaded waits in quarantine.
    """
    found: date | None = connection.sql(query("latest_day")).fetchall()[0][0]
    return found


def latest_known_day(connection: duckdb.DuckDBPyConnection) -> date | None:
    """Return the latest day the ledger can know of: of a record, or of a load; None = it is empty.

    Parameters
    ----------
    connection
        Open ledger.
    """
    days: list[date] = loads(connection)["loaded_on"].to_list()
    recorded = default_as_of(connection)
    return max([*days, *([recorded] if recorded else [])], default=None)


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
    """Return one row per value set aside in a row that counts.

    Parameters
    ----------
    connection
        Open ledger.

    Returns
    -------
    DataFrame
        table, file, row_no, column, value (as written), says (what it is and why it was left out), source, load_id;
        in the order of loads, tables, files and rows.
    """
    return answer(connection, "set_aside_rows", load_id=None)
