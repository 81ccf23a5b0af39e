"""Hand the snapshot's tables to other programs: CSV, Parquet and a description of every column."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

from analytics.cells import neutralised
from analytics.snapshot import TABLES, open_snapshot, read_told

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.records.table import Column, Table

TABLE_SCHEMA_TYPES = {
    "text": "string",
    "date": "date",
    "number": "number",
    "whole": "integer",
    "yes_no": "boolean",
    "instant": "datetime",
}

DESCRIPTION = "datapackage.json"
WRITING = ".writing"
"""Folder in which an export is prepared."""


def export_tables(snapshot: Path, folder: Path) -> dict[str, int]:
    """Write every table as ``NAME.csv`` and ``NAME.parquet`` and describe them in ``datapackage.json``.

    Parameters
    ----------
    snapshot
        File of a snapshot.
    folder
        Made where it is missing; files of the same name are replaced, once all are written.

    Returns
    -------
    dict[str, int]
        Rows by table.

    Notes
    -----
    Lives of safety-critical components are left out (rule 39). A folder without ``datapackage.json`` is one in which
    an export was stopped; each of its files is whole.

    References
    ----------
    .. [1] Data Package and Table Schema, version 1 (Frictionless standards): the description's layout.
    """
    beside = folder / WRITING
    shutil.rmtree(beside, ignore_errors=True)
    beside.mkdir(parents=True)
    rows = {}
    try:
        with open_snapshot(snapshot) as connection:
            for name in TABLES:
                frame = read_told(connection, name)
                frame.write_parquet(beside / f"{name}.parquet")
                neutralised(frame).write_csv(beside / f"{name}.csv")
                rows[name] = frame.height
        package = {"name": snapshot.stem.lower(), "resources": [_described(table) for table in TABLES.values()]}
        (beside / DESCRIPTION).write_text(json.dumps(package, indent=2, ensure_ascii=False) + "\n", "utf-8")
        _put_in_place(beside, folder)
    finally:
        shutil.rmtree(beside, ignore_errors=True)
    return rows


def _put_in_place(beside: Path, folder: Path) -> None:
    """Give every file its name, the description last: old and new tables are never described as one export."""
    (folder / DESCRIPTION).unlink(missing_ok=True)
    for path in sorted(beside.iterdir(), key=lambda path: (path.name == DESCRIPTION, path.name)):
        path.replace(folder / path.name)


def _described(table: Table) -> dict[str, object]:
    return {
        "name": table.name.replace("_", "-"),
        "description": table.meaning,
        "path": f"{table.name}.csv",
        "format": "csv",
        "encoding": "utf-8",
        "schema": {"fields": [_field(column) for column in table.columns], "primaryKey": list(table.key)},
    }


def _field(column: Column) -> dict[str, object]:
    field: dict[str, object] = {
        "name": column.name,
        "type": TABLE_SCHEMA_TYPES[column.kind],
        "description": column.meaning + (f" ({column.unit})" if column.unit else ""),
    }
    if not column.nullable:
        field["constraints"] = {"required": True}
    return field
