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


class _Shown:
    """A frame that a connection reads, and that can be changed for another with the same columns."""

    def __init__(self, frame: pl.DataFrame) -> None:
        self.frame = frame

    def __arrow_c_stream__(self, requested_schema: object = None) -> object:
        """Give the frame's rows to whoever reads Arrow."""
        return self.frame.__arrow_c_stream__(requested_schema)


class Frames:
    """Frames that a connection reads by name, each in the place of the one before.

    Parameters
    ----------
    connection
        Open ledger.

    Notes
    -----
    What is registered within a transaction is kept to its end, even if it is taken back. So each name is registered
    once, and only the last frame of each is kept.
    """

    def __init__(self, connection: duckdb.DuckDBPyConnection) -> None:
        self._connection = connection
        self._shown: dict[str, _Shown] = {}

    def show(self, name: str, frame: pl.DataFrame) -> None:
        """Have the connection read a frame under a name; its columns are those of the first one."""
        if name in self._shown:
            self._shown[name].frame = frame
        else:
            self._shown[name] = _Shown(frame)
            self._connection.register(name, self._shown[name])

    def clear(self) -> None:
        """Let all frames go; the names stay, without rows."""
        for each in self._shown.values():
            each.frame = each.frame.clear()
