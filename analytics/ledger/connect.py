"""Open the ledger: one writer at a time, others wait, and are told who holds it."""

from __future__ import annotations

from contextlib import ExitStack, contextmanager
from typing import TYPE_CHECKING

import duckdb

from analytics.errors import LedgerError
from analytics.ledger.journal import journal_path
from analytics.ledger.schema import SCHEMA_VERSION, build
from analytics.ledger.turn import LedgerHeldError, Patience, held, holder, let_writers_go_first, turn

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

CONFIG: dict[str, str | bool | int | float | list[str]] = {
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
"""No file name and no misspelt function may start a download."""

HELD = ("Conflicting lock", "different configuration", "being used by another process")
FORBIDDEN = ("Permission denied", "Access is denied", "read-only file system")
NO_ROOM = ("No space left", "not enough space", "disk is full")
READING = (duckdb.IOException, duckdb.FatalException, duckdb.InternalException, duckdb.SerializationException)
"""Errors of a file that does not hold what was written; the rest are told as errors of a step."""


class LedgerDamagedError(LedgerError):
    """The ledger file is gone, or cannot be read as what was written."""


def ledger_path(data_dir: Path) -> Path:
    """Return where the ledger of a data folder lies."""
    return data_dir / "ledger.duckdb"


def forgetting_dir(data_dir: Path) -> Path:
    """Return where the ledger and feeds without a car are prepared while it is being forgotten."""
    return data_dir / "forgetting"


def forgetting_plan(data_dir: Path) -> Path:
    """Return the file that is there from the moment they are complete until they are in place."""
    return forgetting_dir(data_dir) / "ready.json"


@contextmanager
def open_ledger(
    data_dir: Path, *, write: bool, wait_seconds: float = 30, waiting: Callable[[str], None] | None = None
) -> Iterator[duckdb.DuckDBPyConnection]:
    """Open the ledger of a data folder, and close it at the end; a writer builds it where there is none.

    Parameters
    ----------
    data_dir
        Data folder.
    write
        Whether this process changes the ledger; only one process can at a time, and nobody reads meanwhile.
    wait_seconds
        How long to wait for a process that holds it. Seconds.
    waiting
        Called once with a sentence where it must be waited for; None = written to stderr.

    Yields
    ------
    DuckDBPyConnection
        Closed when the block ends.

    Raises
    ------
    LedgerError
        If there is no ledger to read, another process holds it for longer than `wait_seconds`, the file is gone or
        damaged, it was written by another version of the program, or the database fails within the block.
    """
    path = ledger_path(data_dir)
    known = journal_path(data_dir).exists()
    if not path.exists() and known:
        raise _gone(path)
    if not write and not path.exists():
        raise _missing(path)
    path.parent.mkdir(parents=True, exist_ok=True)
    patience = Patience(wait_seconds, waiting)
    with ExitStack() as stack:
        if write:
            stack.enter_context(turn(data_dir, patience))
        else:
            let_writers_go_first(data_dir, patience)
        connection = _connect(path, write=write, patience=patience)
        stack.callback(connection.close)
        try:
            connection.execute("set enable_progress_bar = false")
            if forgetting_plan(data_dir).exists():
                raise _forgetting(path)
            _check_schema(connection, path, may_build=write and not known)
            yield connection
        except duckdb.Error as error:
            raise failed(path, error) from error


@contextmanager
def transaction(connection: duckdb.DuckDBPyConnection) -> Iterator[None]:
    """Keep all that the block changes, or, where it fails, nothing."""
    connection.begin()
    try:
        yield
    except BaseException:
        connection.rollback()
        raise
    connection.commit()


def _connect(path: Path, *, write: bool, patience: Patience) -> duckdb.DuckDBPyConnection:
    while True:
        try:
            return duckdb.connect(str(path), read_only=not write, config=CONFIG)
        except duckdb.Error as error:
            if not any(words in str(error) for words in HELD):
                raise _unopened(path, error) from error
            who = holder(path.parent, str(error))
        if patience.over:
            raise held(path, who, patience.seconds)
        patience.wait(who)


def _check_schema(connection: duckdb.DuckDBPyConnection, path: Path, *, may_build: bool) -> None:
    try:
        tables = {name for (name,) in connection.sql("select table_name from duckdb_tables()").fetchall()}
        if not tables and may_build:
            build(connection)
        elif not tables:
            raise _gone(path) if journal_path(path.parent).exists() else _missing(path)
        found = connection.sql("select max(schema_version) from about").fetchall()[0][0]
    except duckdb.Error as error:
        raise damaged(path, error) from error
    if found != SCHEMA_VERSION:
        raise LedgerError(
            f"the ledger has schema {found}, this program reads schema {SCHEMA_VERSION}",
            where=str(path),
            next_step="build it again from the kept feeds with `wearledger rebuild`, or use the version that wrote it",
        )


def _missing(path: Path) -> LedgerError:
    return LedgerError(
        "there is no ledger yet",
        where=str(path),
        next_step="load closed records with `wearledger load FOLDER`, or look at an example with `wearledger demo`",
    )


def _gone(path: Path) -> LedgerDamagedError:
    return LedgerDamagedError(
        "the ledger file is gone or empty, while the journal beside it tells of loads",
        where=str(path),
        next_step="run: wearledger doctor; to begin anew, name another folder with --data",
    )


def _forgetting(path: Path) -> LedgerHeldError:
    return LedgerHeldError(
        "a car is being forgotten, or was when the program was stopped",
        where=str(path),
        next_step="where no other process is at it now, run the same `wearledger forget VEHICLE` again to finish it",
    )


def _first_line(error: duckdb.Error) -> str:
    return next(iter(str(error).splitlines()), type(error).__name__)


def _unopened(path: Path, error: duckdb.Error) -> LedgerError:
    """Return the error for a ledger that does not open: not allowed, or else damaged."""
    if any(words in str(error) for words in FORBIDDEN):
        return LedgerError(
            f"the ledger may not be opened: {_first_line(error)}",
            where=str(path),
            next_step="give yourself the right to read and write this file, or name another folder with --data",
        )
    return damaged(path, error)


def damaged(path: Path, error: duckdb.Error) -> LedgerDamagedError:
    """Return the error for a ledger file that cannot be read as what was written."""
    return LedgerDamagedError(
        f"the ledger cannot be read: {_first_line(error)}", where=str(path), next_step="run: wearledger doctor"
    )


def failed(path: Path, error: duckdb.Error) -> LedgerError:
    """Return the error for a database that failed while the ledger was open."""
    told = _first_line(error)
    if isinstance(error, duckdb.OutOfMemoryException):
        return LedgerError(
            f"there is too little memory: {told}",
            where=str(path),
            next_step="close other programs and run the same command again; nothing was changed",
        )
    if any(words in str(error) for words in NO_ROOM):
        return LedgerError(
            f"there is no room left on the disk: {told}",
            where=str(path),
            next_step="make room and run the same command again; nothing was changed",
        )
    if isinstance(error, READING) or "Corrupt database file" in told:
        return damaged(path, error)
    return LedgerError(
        f"the ledger could not answer: {told}",
        where=str(path),
        next_step="run: wearledger doctor; where it finds all good, report this as a fault of the program",
    )
