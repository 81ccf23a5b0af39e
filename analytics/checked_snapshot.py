"""A snapshot with the backtest in it: the same analysis, published under a name of its own, and found again."""

from __future__ import annotations

import hashlib
from typing import TYPE_CHECKING

import polars as pl

from analytics.snapshot import TABLES, open_snapshot, read_table, snapshot_folder, write_snapshot

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

CHECKED_DAYS = "checked_days"
"""Name in table ``meta`` of the past days that forecasts were checked on."""


def checked_id(snapshot_id: str, origins: int) -> str:
    """Return the id of an analysis with its forecasts checked on so many past days.

    Parameters
    ----------
    snapshot_id
        Id of the analysis, with which the new one begins.
    origins
        Past days asked for.

    Examples
    --------
    >>> checked_id("2026-11-24-0123abcd", 8).startswith("2026-11-24-0123abcd")
    True
    """
    return snapshot_id + hashlib.sha256(f"{CHECKED_DAYS}={origins}".encode()).hexdigest()[:8]


def publish_checked(data_dir: Path, plain: Path, origins: int, found: Mapping[str, pl.DataFrame]) -> Path:
    """Publish an analysis once more, with the backtest's tables, and make it the newest snapshot.

    Parameters
    ----------
    data_dir
        Data folder.
    plain
        File of the analysis; it stays as it is.
    origins
        Past days asked for.
    found
        The backtest's tables by name.
    """
    name = checked_id(plain.stem, origins)
    with open_snapshot(plain) as snapshot:
        tables = {table: read_table(snapshot, table) for table in TABLES}
    told = pl.DataFrame({"name": ["snapshot_id", CHECKED_DAYS], "value": [name, str(origins)]})
    tables["meta"] = pl.concat([tables["meta"].filter(pl.col("name") != "snapshot_id"), told], how="diagonal")
    return write_snapshot(data_dir, name, tables | dict(found))


def best_checked(data_dir: Path, snapshot_id: str, whole: Callable[[Path], bool]) -> str:
    """Return the id of the analysis with its forecasts checked on most past days, or of the bare one.

    Parameters
    ----------
    data_dir
        Data folder.
    snapshot_id
        Id of the bare analysis.
    whole
        Whether a snapshot can be read.
    """
    files = [path for path in snapshot_folder(data_dir).glob(f"{snapshot_id}{'?' * 8}.duckdb") if whole(path)]
    return max(files, key=_days, default=snapshot_folder(data_dir) / f"{snapshot_id}.duckdb").stem


def _days(path: Path) -> int:
    with open_snapshot(path) as snapshot:
        told = read_table(snapshot, "meta", name=CHECKED_DAYS)
    return int(told["value"][0]) if told.height else 0
