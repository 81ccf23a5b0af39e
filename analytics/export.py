"""Hand the snapshot's tables to other programs: CSV, Parquet and a description of every column."""

from __future__ import annotations

import json
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


def export_tables(snapshot: Path, folder: Path) -> dict[str, int]:
    """Write every table as ``NAME.csv`` and ``NAME.parquet`` and describe them in ``datapackage.json``.

    Parameters
    ----------
    snapshot
        File of a snapshot.
    folder
        Made where it is missing; files of the same name are replaced.

    Returns
    -------
    dict[str, int]
        Rows by table.

    Notes
    -----
    Lives of safety-critical components are left out (rule 39).

    References
    ----------
    .. [1] Data Package and Table Schema, version 1 (Frictionless standards): the description's layout.
    """
    folder.mkdir(parents=True, exist_ok=True)
    rows = {}
    with open_snapshot(snapshot) as connection:
        for name in TABLES:
            frame = read_told(connection, name)
            frame.write_parquet(folder / f"{name}.parquet")
            neutralised(frame).write_csv(folder / f"{name}.csv")
            rows[name] = frame.height
    package = {"name": snapshot.stem.lower(), "resources": [_described(table) for table in TABLES.values()]}
    (folder / "datapackage.json").write_text(json.dumps(package, indent=2, ensure_ascii=False) + "\n", "utf-8")
    return rows


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
