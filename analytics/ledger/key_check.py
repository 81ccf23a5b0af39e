"""Whether the key that hid the vehicle ids of a ledger is there, and what to do where it is not."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

from analytics.errors import LedgerError
from analytics.ledger.connect import ledger_path, open_ledger
from analytics.ledger.private_key import KEY_TEXT, MARK, key_path, mark_of

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb

PUT_BACK = "put the file back from a backup made with --with-key, or from your own copy of it"


def key_trouble(data_dir: Path, connection: duckdb.DuckDBPyConnection) -> str | None:
    """Say what is wrong with the key of a data folder.

    Parameters
    ----------
    data_dir
        Data folder.
    connection
        Its open ledger.

    Returns
    -------
    str or None
        Empty = it is the key that hid the cars; None = no car is hidden.
    """
    marks = _marks(connection)
    if not marks:
        return None
    path = key_path(data_dir)
    if not path.is_file():
        return (
            f"cars are hidden by a keyed hash, and its key {path} is gone: no car can be called by its own id, "
            f"and no feed with hidden cars can be loaded; {PUT_BACK}"
        )
    text = path.read_text(encoding="ascii", errors="replace")
    if not KEY_TEXT.fullmatch(text):
        return f"the key {path} that hides vehicle ids is not what was written; {PUT_BACK}"
    if marks != {mark_of(bytes.fromhex(text))}:
        return f"the key {path} is another one than that which hid the vehicle ids; {PUT_BACK}"
    return ""


def why_not_found(data_dir: Path) -> str:
    """Say why a car may not be found by its own id: its key is missing; empty = that is not why."""
    if not ledger_path(data_dir).exists():
        return ""
    try:
        with open_ledger(data_dir, write=False) as connection:
            return key_trouble(data_dir, connection) or ""
    except LedgerError:  # other commands tell it
        return ""


def refuse_new_key(data_dir: Path, connection: duckdb.DuckDBPyConnection, mark: object) -> None:
    """Refuse a feed that was hidden by another key than the ledger's cars.

    Parameters
    ----------
    data_dir
        Data folder.
    connection
        Its open ledger.
    mark
        What the feed tells of its key; None = its cars are not hidden.

    Raises
    ------
    LedgerError
        If it is another one: the same cars would come back under new names.
    """
    if mark is not None and _marks(connection) - {mark}:
        raise LedgerError(
            "the key that hid the vehicle ids of the ledger is not here, and another one gives the same cars new names",
            where=str(key_path(data_dir)),
            next_step=f"{PUT_BACK}, then run the same command again",
        )


def _marks(connection: duckdb.DuckDBPyConnection) -> set[object]:
    """Return the marks of the keys by which the feeds that count were hidden."""
    stated = connection.sql(
        "select distinct value from setting anti join undone_load using (load_id) where name = $name",
        params={"name": MARK},
    )
    return {json.loads(value) for (value,) in stated.fetchall()}
