"""The newest result of a data folder, or what to do to get one."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analytics.counting import count
from analytics.errors import LedgerError, SnapshotError
from analytics.ledger import default_as_of, open_ledger, quarantine_rows, rows_waiting
from analytics.snapshot import latest_path

if TYPE_CHECKING:
    from datetime import date
    from pathlib import Path

    import duckdb


def newest_snapshot(data_dir: Path) -> Path:
    """Return the newest snapshot's file.

    Parameters
    ----------
    data_dir
        Data folder.

    Raises
    ------
    SnapshotError
        If there is none.
    LedgerError
        If there is none, and the ledger cannot be read or analysed.

    Notes
    -----
    Each says what comes first: to load, to mend or to analyse.
    """
    try:
        return latest_path(data_dir)
    except SnapshotError as error:
        if (data_dir / "ledger.duckdb").exists():
            with open_ledger(data_dir, write=False) as connection:
                latest_day(connection, data_dir)
            raise
        raise SnapshotError(
            "nothing has been loaded and analysed yet",
            where=str(data_dir),
            next_step="run: wearledger load FOLDER, then: wearledger analyse (or, to look round: wearledger demo)",
        ) from error


def latest_day(connection: duckdb.DuckDBPyConnection, data_dir: Path) -> date:
    """Return the latest day that a record of the ledger is dated.

    Parameters
    ----------
    connection
        An open ledger.
    data_dir
        Its data folder.

    Raises
    ------
    LedgerError
        If no record is dated, so that an analysis has nothing to begin with; it says whether rows wait to be mended.
    """
    latest = default_as_of(connection)
    if latest is not None:
        return latest
    waiting = rows_waiting(quarantine_rows(connection))
    told = f"; {count(waiting, 'row waits', 'rows wait')} in quarantine" if waiting else ""
    step = "run: wearledger quarantine" if waiting else "run: wearledger load FOLDER"
    raise LedgerError(f"the ledger holds no dated record yet{told}", where=str(data_dir), next_step=step)
