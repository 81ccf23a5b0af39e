"""Find the package's SQL files, and keep the answer of one as a temporary table."""

from __future__ import annotations

from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb
    import polars as pl

FOLDER = Path(__file__).parent / "sql"


@cache
def query(name: str) -> str:
    """Return the text of ``sql/<name>.sql``."""
    return (FOLDER / f"{name}.sql").read_text(encoding="utf-8")


def keep(connection: duckdb.DuckDBPyConnection, table: str, name: str, /, **parameters: Any) -> None:  # noqa: ANN401
    """Keep the answer of ``sql/<name>.sql`` as the temporary table `table`.

    Parameters
    ----------
    connection
        Open ledger.
    table
        Name of the temporary table, replaced if it is there.
    name
        File name without suffix.
    **parameters
        Values of the file's parameters.
    """
    connection.execute(f"create or replace temp table {table} as\n{query(name)}", parameters or None)


def answer(connection: duckdb.DuckDBPyConnection, name: str, /, **parameters: Any) -> pl.DataFrame:  # noqa: ANN401
    """Return the answer of ``sql/<name>.sql`` as a frame, in the order the file states."""
    frame: pl.DataFrame = connection.sql(query(name), params=parameters or None).pl()
    return frame


def insert(connection: duckdb.DuckDBPyConnection, table: str, name: str, /, **parameters: Any) -> None:  # noqa: ANN401
    """Insert the answer of ``sql/<name>.sql`` into a table, by column name."""
    connection.execute(f"insert into {table} by name\n{query(name)}", parameters or None)
