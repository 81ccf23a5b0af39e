"""Read a published snapshot: the only door of dashboards and publications."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING, Any

import duckdb

from analytics.errors import SnapshotError
from analytics.snapshot.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import polars as pl

LOCKED_DOWN: dict[str, str | bool | int | float | list[str]] = {
    "enable_external_access": "false",
    "lock_configuration": "true",
    "autoinstall_known_extensions": "false",
    "autoload_known_extensions": "false",
}
"""A reader needs no files, no network and no settings."""


def snapshot_folder(data_dir: Path) -> Path:
    """Return the folder that holds the snapshots of a data folder."""
    return data_dir / "snapshots"


def latest_path(data_dir: Path) -> Path:
    """Return the newest snapshot's file.

    Raises
    ------
    SnapshotError
        If nothing has been analysed yet, or the named file is gone.
    """
    pointer = snapshot_folder(data_dir) / "LATEST"
    if not pointer.is_file():
        raise SnapshotError(
            "there is no snapshot yet", where=str(data_dir), next_step="run: wearledger analyse (or: wearledger demo)"
        )
    path = snapshot_folder(data_dir) / f"{pointer.read_text(encoding='utf-8', errors='replace').strip()}.duckdb"
    if not path.is_file():
        raise SnapshotError(
            f"the newest snapshot {path.name} is named but not there",
            where=str(pointer),
            next_step="run: wearledger analyse",
        )
    return path


def open_snapshot(path: Path) -> duckdb.DuckDBPyConnection:
    """Open a snapshot read-only, without access to files, network or settings.

    Raises
    ------
    SnapshotError
        If the file is not a snapshot.
    """
    try:
        return duckdb.connect(str(path), read_only=True, config=LOCKED_DOWN)
    except duckdb.Error as error:
        raise _damaged(f"the snapshot {path.stem}", str(path), error) from error


def _damaged(what: str, where: str, error: duckdb.Error) -> SnapshotError:
    """Return the error for a snapshot that does not hold what was written, or that another version wrote."""
    why = "another version of the program wrote it" if isinstance(error, duckdb.CatalogException) else "it is damaged"
    return SnapshotError(
        f"{what} cannot be read: {why}",
        where=where,
        next_step="run: wearledger analyse, which writes it anew",
    )


def read_table(connection: duckdb.DuckDBPyConnection, name: str, /, **equals: str | int | float | bool) -> pl.DataFrame:
    """Return a snapshot table, or its rows with the given values, in key order.

    Parameters
    ----------
    connection
        As from `open_snapshot`.
    name
        Name of a declared table.
    **equals
        Column name and the value it must have.

    Returns
    -------
    polars.DataFrame
        The declared columns and any added ones.

    Raises
    ------
    SnapshotError
        If the table or a column is not declared, or the file does not hold what was written.
    """
    if name not in TABLES:
        near = "".join(f"did you mean {each}? " for each in get_close_matches(name.lower(), TABLES, n=1))
        raise SnapshotError(
            f"there is no table {name!r}",
            where="snapshot",
            next_step=f"{near}choose one of: {', '.join(sorted(TABLES))}",
        )
    relation = _or_refused(lambda: connection.table(name), name)
    for column, value in equals.items():
        if column not in relation.columns:
            raise SnapshotError(
                f"table {name} has no column {column!r}",
                where="snapshot",
                next_step=f"choose one of: {', '.join(relation.columns)}",
            )
        relation = relation.filter(duckdb.ColumnExpression(column) == duckdb.ConstantExpression(value))
    frame: pl.DataFrame = _or_refused(relation.pl, name)
    return frame.sort(TABLES[name].key, nulls_last=True)


def _or_refused(read: Callable[[], Any], name: str) -> Any:  # noqa: ANN401 - whatever the reader returns
    """Read, or say that the snapshot cannot be read."""
    try:
        return read()
    except duckdb.Error as error:
        raise _damaged(f"table {name} of the snapshot", "snapshot", error) from error
