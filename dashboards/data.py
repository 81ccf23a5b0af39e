"""The pages' only door to the snapshot: cached on names and values, never on frames."""

from __future__ import annotations

import os
from contextlib import closing
from dataclasses import dataclass
from datetime import date
from pathlib import Path

import polars as pl
import streamlit as st

from analytics.errors import SnapshotError
from analytics.snapshot.read import latest_path, open_snapshot
from analytics.snapshot.tables import TABLES
from analytics.snapshot.told import read_told
from dashboards import FOLDER

Value = str | int | float | bool


@dataclass(frozen=True, slots=True)
class Snapshot:
    """One published result.

    Attributes
    ----------
    path
        Its file.
    name
        Its id.
    as_of
        The day up to which records count.
    named
        Values of table ``meta`` by name.
    """

    path: str
    name: str
    as_of: date
    named: dict[str, str]

    def rows(self, table: str, **equals: Value) -> pl.DataFrame:
        """Return the table's rows that have these values, in key order; no life of a safety-critical part."""
        return _rows(self.path, table, tuple(sorted(equals.items())))

    def rows_if_any(self, table: str, **equals: Value) -> pl.DataFrame:
        """Return the same, and no row where an older snapshot has no such table."""
        try:
            return self.rows(table, **equals)
        except SnapshotError:
            return pl.DataFrame(schema=TABLES[table].schema)

    def number(self, name: str, default: int) -> int:
        """Return a named default of the run, as a whole number."""
        try:
            return round(float(self.named[name]))
        except (KeyError, ValueError):
            return default


def folder() -> Path:
    """Return the data folder.

    Raises
    ------
    SnapshotError
        If nobody said where it is.
    """
    named = os.environ.get(FOLDER, "")
    if not named:
        raise SnapshotError(
            "nobody said where the data live", where=f"environment variable {FOLDER}", next_step="run: wearledger demo"
        )
    return Path(named)


def current() -> Snapshot:
    """Return the newest snapshot; asks the disk each time, so that a new one is seen at the next click."""
    return _described(str(latest_path(folder())))


@st.cache_data(show_spinner=False, max_entries=16)
def _described(path: str) -> Snapshot:
    meta = _rows(path, "meta", ())
    named: dict[str, str] = dict(zip(meta["name"], meta["value"], strict=True))
    name = Path(path).stem
    return Snapshot(path, name, date.fromisoformat(named.get("as_of", name)[:10]), named)


@st.cache_data(show_spinner=False, max_entries=512)
def _rows(path: str, table: str, equals: tuple[tuple[str, Value], ...]) -> pl.DataFrame:
    with closing(open_snapshot(Path(path))) as connection:
        return read_told(connection, table, **dict(equals))
