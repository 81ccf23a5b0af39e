"""Small mapped feeds by hand: rows of text as a mapping would give them."""

from __future__ import annotations

from datetime import date

import polars as pl

from analytics.ledger import load, open_ledger
from analytics.ledger.connect import ledger_path
from analytics.records import MappedFeed

LOADED_ON = date(2026, 11, 24)
CAR = {"vehicle_id": "A", "series": "first"}
JOB = {
    "record_id": "17",
    "line_no": "1",
    "vehicle_id": "A",
    "opened_on": "2020-03-01",
    "closed_on": "2020-03-04",
    "component": "hose",
    "action": "replaced",
    "reason": "failure",
}


def job(record_id="17", line_no="1", **changed):
    return {**JOB, "record_id": record_id, "line_no": line_no, **changed}


def rows_of(table, rows, file=None):
    names = list(dict.fromkeys(name for row in rows for name in row))
    frame = pl.DataFrame(
        [{name: row.get(name) for name in names} for row in rows], schema=dict.fromkeys(names, pl.String)
    )
    return frame.with_columns(file=pl.lit(file or f"{table}.csv"), row_no=pl.int_range(1, pl.len() + 1, dtype=pl.Int64))


def files_of(folder, **tables):
    """Write a native feed as CSV files, and return its folder."""
    folder.mkdir()
    for name, rows in tables.items():
        rows_of(name, rows).drop("file", "row_no").write_csv(folder / f"{name}.csv")
    return folder


def feed(source="", settings=None, file=None, **tables):
    mapped = {
        name: rows if isinstance(rows, pl.DataFrame) else rows_of(name, rows, file) for name, rows in tables.items()
    }
    return MappedFeed(source, mapped, settings or {}, (), (("export.csv", "0" * 64),))


def put(data, source="", settings=None, file=None, loaded_on=LOADED_ON, complete=False, mapping_text="", **tables):
    """Load rows by table; the car A comes along with the first load unless that brings cars."""
    if not ledger_path(data).exists():
        tables = {"vehicles": [CAR], **tables}
    mapped = feed(source, settings, file, **tables)
    return load(data, mapped, loaded_on=loaded_on, complete=complete, mapping_text=mapping_text)


def ask(data, sql):
    with open_ledger(data, write=False) as connection:
        return connection.sql(sql).fetchall()


def tell(data, question):
    """Return what a function of an open ledger answers."""
    with open_ledger(data, write=False) as connection:
        return question(connection)
