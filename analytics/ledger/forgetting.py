"""Put a ledger without a forgotten car in the place of the old one: steps that may be stopped and repeated."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from analytics.ledger.connect import CONFIG, forgetting_dir, forgetting_plan, ledger_path
from analytics.ledger.feeds import feeds_dir
from analytics.ledger.journal import journal_path, read_journal
from analytics.ledger.mentions import mentions_any

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.ledger.car_rows import Car

LATEST = "LATEST"
LEFT_OVERS = ("ledger.before-rebuild.duckdb", "ledger.before-rebuild.duckdb.wal", "ledger.duckdb.tmp", "rebuilding")
"""What earlier commands may have left in a data folder, and what may hold the car."""


def finish(data_dir: Path) -> bool:
    """Put a prepared ledger, its feeds and its journal in place, and delete what held the car.

    Parameters
    ----------
    data_dir
        Data folder.

    Returns
    -------
    bool
        Whether something was prepared.

    Notes
    -----
    Every step is done once, however often it is repeated. The plan goes last: until then a stop is no harm.
    """
    plan = forgetting_plan(data_dir)
    if not plan.exists():
        return False
    snapshots = json.loads(plan.read_text(encoding="utf-8"))["snapshots"]
    prepared = forgetting_dir(data_dir)
    for folder in feeds_dir(prepared).glob("*"):
        if folder.is_dir():
            place = feeds_dir(data_dir) / folder.name
            shutil.rmtree(place, ignore_errors=True)
            folder.replace(place)
    if journal_path(prepared).exists():
        journal_path(prepared).replace(journal_path(data_dir))
    place, ledger = ledger_path(data_dir), ledger_path(prepared)
    if ledger.exists():
        place.with_name(f"{place.name}.wal").unlink(missing_ok=True)  # its rows are in the old file, which goes as well
        ledger.replace(place)
    _delete(data_dir, snapshots)
    plan.unlink()
    shutil.rmtree(prepared)
    return True


def holding(data_dir: Path, car: Car) -> list[str]:
    """Return the files in ``snapshots`` that hold a car, or that cannot be read as a snapshot.

    Parameters
    ----------
    data_dir
        Data folder.
    car
        As from `find_car`.
    """
    files = [path for path in sorted((data_dir / "snapshots").glob("*")) if path.is_file() and path.name != LATEST]
    return [path.name for path in files if path.name.startswith(".") or _holds(path, car)]


def _holds(path: Path, car: Car) -> bool:
    if path.suffix != ".duckdb":
        return True
    named = sorted(car.names)
    try:
        with duckdb.connect(str(path), read_only=True, config=CONFIG) as connection:
            for (table,) in connection.sql("select table_name from duckdb_tables()").fetchall():
                relation = connection.table(table)
                texts = [n for n, kind in zip(relation.columns, relation.types, strict=True) if str(kind) == "VARCHAR"]
                for name in texts:
                    found = relation.filter(
                        duckdb.ColumnExpression(name).isin(*(duckdb.ConstantExpression(each) for each in named))
                    )
                    if found.limit(1).fetchall():
                        return True
            return _told(connection, car)
    except duckdb.Error:
        return True


def _told(connection: duckdb.DuckDBPyConnection, car: Car) -> bool:
    """Whether an example in the table of findings names the car or a line of one of its jobs."""
    example = pl.col("example_record")
    prefix = pl.when(pl.col("source") != "").then(pl.col("source") + ":").otherwise(pl.lit(""))
    orders = car.jobs.drop_nulls().select(prefix + pl.col("record_id")).to_series()
    named = mentions_any(example, car.names) | example.str.replace(r"/[^/]*$", "").is_in(orders.implode())
    frame = connection.table("data_quality").pl()
    return not frame.filter(example.is_not_null() & named).is_empty()


def _delete(data_dir: Path, snapshots: list[str]) -> None:
    named = {step["feed"] for step in read_journal(data_dir) if step["did"] == "load"}
    for folder in feeds_dir(data_dir).glob("*"):
        if folder.is_dir() and folder.name not in named:
            shutil.rmtree(folder)
    for name in snapshots:
        (data_dir / "snapshots" / name).unlink(missing_ok=True)
    _name_newest(data_dir / "snapshots")
    for name in LEFT_OVERS:
        path = data_dir / name
        if path.is_dir():
            shutil.rmtree(path)
        else:
            path.unlink(missing_ok=True)


def _name_newest(folder: Path) -> None:
    """Let LATEST name the snapshot written last of those left, or be gone with the last of them."""
    pointer = folder / LATEST
    if not pointer.is_file():
        return
    named = pointer.read_text(encoding="utf-8", errors="replace").strip()
    if (folder / f"{named}.duckdb").exists():
        return
    left = sorted(folder.glob("*.duckdb"), key=lambda path: (path.stat().st_mtime_ns, path.name))
    if not left:
        pointer.unlink()
        return
    beside = folder / ".LATEST.tmp"
    beside.write_text(f"{left[-1].stem}\n", encoding="utf-8")
    beside.replace(pointer)
