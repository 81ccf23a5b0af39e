"""Open the ledger: one writer at a time, others wait, and are told who holds it."""

from __future__ import annotations

import re
import time
from typing import TYPE_CHECKING

import duckdb

from analytics.errors import LedgerError
from analytics.ledger.schema import SCHEMA_VERSION, build

if TYPE_CHECKING:
    from pathlib import Path

CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
"""No file name and no misspelt function may start a download."""

LOOK_AGAIN_SECONDS = 0.05
HELD = ("Conflicting lock", "different configuration", "being used by another process")


class LedgerHeldError(LedgerError):
    """Another process, or another task of this one, holds the ledger."""


def ledger_path(data_dir: Path) -> Path:
    """Return where the ledger of a data folder lies."""
    return data_dir / "ledger.duckdb"


def open_ledger(data_dir: Path, *, write: bool, wait_seconds: float = 30) -> duckdb.DuckDBPyConnection:
    """Open the ledger of a data folder; a writer builds it where there is none.

    Parameters
    ----------
    data_dir
        Data folder.
    write
        Whether this process changes the ledger; only one process can at a time, and nobody reads meanwhile.
    wait_seconds
        How long to wait for a process that holds it. Seconds.

    Returns
    -------
    DuckDBPyConnection
        To be closed by the caller; it is a context manager.

    Raises
    ------
    LedgerError
        If there is no ledger to read, another process holds it for longer than `wait_seconds`, the file is
        damaged, or it was written by another version of the program.
    """
    path = ledger_path(data_dir)
    if not write and not path.exists():
        raise _missing(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    connection = _connect(path, write=write, wait_seconds=wait_seconds)
    try:
        connection.execute("set enable_progress_bar = false")
        _check_schema(connection, path, write=write)
    except BaseException:
        connection.close()
        raise
    return connection


def _connect(path: Path, *, write: bool, wait_seconds: float) -> duckdb.DuckDBPyConnection:
    until = time.monotonic() + wait_seconds
    while True:
        try:
            return duckdb.connect(str(path), read_only=not write, config=CONFIG)
        except duckdb.Error as error:
            if not any(words in str(error) for words in HELD):
                raise damaged(path, error) from error
            if time.monotonic() >= until:
                raise _held(path, str(error), wait_seconds) from None
        time.sleep(LOOK_AGAIN_SECONDS)


def _check_schema(connection: duckdb.DuckDBPyConnection, path: Path, *, write: bool) -> None:
    try:
        tables = {name for (name,) in connection.sql("select table_name from duckdb_tables()").fetchall()}
        if not tables and write:
            build(connection)
        elif not tables:
            raise _missing(path)
        found = connection.sql("select max(schema_version) from about").fetchall()[0][0]
    except duckdb.Error as error:
        raise damaged(path, error) from error
    if found != SCHEMA_VERSION:
        raise LedgerError(
            f"the ledger has schema {found}, this program reads schema {SCHEMA_VERSION}",
            where=str(path),
            next_step="use the version that wrote it, or move the ledger away and rebuild it from the kept feeds",
        )


def _missing(path: Path) -> LedgerError:
    return LedgerError(
        "there is no ledger yet",
        where=str(path),
        next_step="load closed records with `wearledger load FOLDER`, or look at an example with `wearledger demo`",
    )


def _held(path: Path, error: str, wait_seconds: float) -> LedgerHeldError:
    process = re.search(r"PID (\d+)", error)
    if process:
        holder = f"process {process[1]}"
    elif "different configuration" in error:
        holder = "another task of this program"
    else:
        holder = "another process"
    return LedgerHeldError(
        f"{holder} holds the ledger and did not let go within {wait_seconds:g} s",
        where=str(path),
        next_step="wait until it has finished, or end that process; what it has committed stays",
    )


def damaged(path: Path, error: duckdb.Error) -> LedgerError:
    """Return the error for a ledger file that cannot be read as what was written."""
    return LedgerError(
        f"the ledger cannot be read: {str(error).splitlines()[0]}",
        where=str(path),
        next_step="run `wearledger doctor`; the ledger can be rebuilt from the kept feeds with `wearledger rebuild`",
    )
