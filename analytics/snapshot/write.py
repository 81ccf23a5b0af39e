"""Publish a snapshot: written beside, then renamed, never changed again."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from analytics.errors import SnapshotError
from analytics.records.table import failures
from analytics.snapshot.read import snapshot_folder
from analytics.snapshot.tables import TABLES

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from analytics.records.table import Table


def write_snapshot(data_dir: Path, snapshot_id: str, tables: Mapping[str, pl.DataFrame]) -> Path:
    """Write every declared table and make the snapshot the newest one.

    Parameters
    ----------
    data_dir
        Data folder; the snapshot lands in its ``snapshots``.
    snapshot_id
        Name of the result for ever; a snapshot of that name is left as it is.
    tables
        Frames by table name; a declared table that is missing is written empty.

    Returns
    -------
    pathlib.Path
        The snapshot's file.

    Raises
    ------
    SnapshotError
        If a frame is not what its table declares (missing column, empty key, a number that is not finite).
    """
    folder = snapshot_folder(data_dir)
    folder.mkdir(parents=True, exist_ok=True)
    path = folder / f"{snapshot_id}.duckdb"
    if not path.exists():
        beside = folder / f".{snapshot_id}.{os.getpid()}.tmp"
        beside.unlink(missing_ok=True)
        _write_file(beside, {name: conform(tables.get(name), table) for name, table in TABLES.items()})
        _publish(beside, path)
    pointer = folder / f".LATEST.{os.getpid()}.tmp"
    pointer.write_text(snapshot_id + "\n", encoding="utf-8")
    _publish(pointer, folder / "LATEST")
    return path


def conform(frame: pl.DataFrame | None, table: Table) -> pl.DataFrame:
    """Return the frame with the declared columns first, typed and sorted by key.

    Raises
    ------
    SnapshotError
        If it breaks the declaration.
    """
    if frame is None:
        return pl.DataFrame(schema=table.schema)
    missing = [name for name in table.names if name not in frame.columns]
    if missing:
        raise SnapshotError(
            f"the frame lacks {', '.join(missing)}", where=f"table {table.name}", next_step="add the columns"
        )
    extra = [name for name in frame.columns if name not in table.names]
    typed = frame.select(*(pl.col(c.name).cast(c.dtype) for c in table.columns), *extra)
    broken = failures(typed, table)
    if broken.height:
        line, rule, says = broken.row(0)
        raise SnapshotError(
            f"{broken.height} rows break the declaration, first row {line}: {rule}, {says}",
            where=f"table {table.name}: {typed.row(line - 1, named=True)}",
            next_step="mend the stage that made the row",
        )
    for name, dtype in typed.schema.items():
        if dtype.is_float() and not typed[name].drop_nulls().is_finite().all():
            raise SnapshotError(
                f"column {name} holds a number that is not finite",
                where=f"table {table.name}",
                next_step="write null and a status instead",
            )
    return typed.sort(table.key, nulls_last=True)


def _write_file(path: Path, tables: Mapping[str, pl.DataFrame]) -> None:
    connection = duckdb.connect(str(path), config={"autoinstall_known_extensions": "false"})
    try:
        for name, frame in tables.items():
            connection.register("frame_in", frame)
            connection.table("frame_in").create(name)
            connection.unregister("frame_in")
        connection.execute("checkpoint")
    finally:
        connection.close()


def _publish(beside: Path, path: Path) -> None:
    """Make sure the bytes are on disk, then give them their name in one step."""
    with beside.open("rb") as file:
        os.fsync(file.fileno())
    beside.replace(path)
    folder = os.open(path.parent, os.O_RDONLY)
    try:
        os.fsync(folder)
    finally:
        os.close(folder)
