"""Forget a car: the ledger is built again from kept feeds without its rows, and takes the place of the old one."""

from __future__ import annotations

import json
import os
import shutil
from dataclasses import dataclass, field
from datetime import date
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.counting import count
from analytics.errors import LedgerError
from analytics.ledger.car_rows import (
    Car,
    find_car,
    mapping_without_car,
    rows_that_mention,
    steps_that_mention,
    without_car,
)
from analytics.ledger.connect import forgetting_dir, forgetting_plan, ledger_path, open_ledger, transaction
from analytics.ledger.feeds import keep_feed, read_feed
from analytics.ledger.forgetting import finish, holding
from analytics.ledger.journal import note, note_loads, read_journal
from analytics.ledger.load import WRITING
from analytics.ledger.private_key import known_as
from analytics.ledger.queries import answer
from analytics.ledger.same import ids_of_one_car, repeat_name
from analytics.ledger.taking import Delivery, kept_as, take
from analytics.ledger.turn import Patience, turn
from analytics.ledger.undo import undo_in, withdraw_in
from analytics.records.native_rows import CARRIED

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    import duckdb

    from analytics.records import MappedFeed

SAME_ROW = ["load_id", "table_name", "feed_source", "row_hash", "column_name"]


@dataclass(frozen=True, slots=True)
class Forgotten:
    """What was removed.

    Attributes
    ----------
    rows
        Rows taken out of the kept feeds, by table; empty = only a forget that had been stopped was finished.
    feeds
        Kept feeds that were written anew.
    held
        Rows that the ledger no longer holds, by kind: revisions, quarantined values, values set aside, withdrawals.
    snapshots
        Snapshots deleted.
    newest
        Newest snapshot left; empty = none.
    mentions, said
        Rows of other cars, and steps of the journal, with the car's id or serial somewhere in their text, which stay.
    finished
        Whether a forget that had been stopped was finished first.
    """

    rows: dict[str, int]
    feeds: int
    held: dict[str, int]
    snapshots: int
    newest: str
    mentions: int
    said: int
    finished: bool

    def sentences(self) -> list[str]:
        """Return lines for people: what was removed, what stays, what to do."""
        lines = ["a forget that had been stopped was finished"] if self.finished else []
        if not self.rows:
            return lines
        rows = ", ".join(f"{count(n, 'row')} of {table}" for table, n in self.rows.items())
        held = ", ".join(count(n, kind) for kind, n in self.held.items() if n)
        lines.append(f"removed from {count(self.feeds, 'kept feed')}: {rows}")
        lines.append(f"removed from the ledger: {held or 'nothing more'}")
        lines.append(f"deleted because they held the car: {count(self.snapshots, 'snapshot')}")
        if self.mentions:
            lines.append(
                f"not rewritten: {count(self.mentions, 'row')} of other cars with its id or serial somewhere in the "
                "text, such as a note"
            )
        if self.said:
            lines.append(f"not rewritten: {count(self.said, 'reason or name', 'reasons or names')} typed with its id")
        lines.append(
            "backups, exports and pages made earlier still hold the car, and so do the original files: take it out of "
            "them as well, or the next load brings it back"
        )
        return lines


@dataclass(slots=True)
class _Work:
    """A ledger without the car, as it is being built.

    Attributes
    ----------
    folder
        Data folder of its own.
    car
        Who is left out.
    feeds
        Kept feeds with the car, and the texts of their mappings, by hash.
    quarantined
        Quarantined rows of the old ledger, as ``quarantine_place.sql``.
    renamed
        New hashes of feeds, by the old ones, in the order of loading.
    """

    folder: Path
    car: Car
    feeds: dict[str, tuple[MappedFeed, str]]
    quarantined: pl.DataFrame
    renamed: list[tuple[str, str]] = field(default_factory=list)


def forget(data_dir: Path, vehicle_id: str, *, progress: Callable[[str], None] | None = None) -> Forgotten:
    """Remove a car from ledger, kept feeds and journal, and delete every snapshot that held it.

    Parameters
    ----------
    data_dir
        Data folder.
    vehicle_id
        The car, as it is written in the export; its keyed hash is found as well, and every id said to be the same car.
    progress
        Called with a sentence before each step.

    Returns
    -------
    Forgotten
        What was removed, in counts.

    Raises
    ------
    LedgerError
        If no kept feed names the car, or journal or a kept feed is damaged; nothing was changed then.

    Notes
    -----
    Everything is prepared in ``forgetting`` beside the ledger and put in place at the end. A process killed before
    that leaves all as it was; later, other commands are refused until `forget` has been run again and finished it.
    """
    say = progress or (lambda _: None)
    with WRITING, turn(data_dir, Patience(30, progress)):
        finished = finish(data_dir)
        if not ledger_path(data_dir).exists():
            with open_ledger(data_dir, write=False):  # says what to do
                pass
        with open_ledger(data_dir, write=True, waiting=progress) as connection:
            note_loads(data_dir, connection)
            steps = read_journal(data_dir)
            names = [step["feed"] for step in steps if step["did"] == "load"]
            feeds = {name: read_feed(data_dir, name) for name in dict.fromkeys(names)}
            quarantined = answer(connection, "quarantine_place")
            mapped = {name: each for name, (each, _) in feeds.items()}
            car = find_car(mapped, ids_of_one_car(steps, known_as(data_dir, vehicle_id)), quarantined)
            if car is None and not finished:
                raise _unknown(vehicle_id, mapped)
            if car is None:
                return Forgotten({}, 0, {}, 0, "", 0, 0, finished)
            work = _Work(forgetting_dir(data_dir), car, feeds, quarantined)
            held = _held(connection)
            left = _build(work, steps, say)
            say("looking through the snapshots")
            snapshots = holding(data_dir, car)
            connection.execute("checkpoint")
            _plan(data_dir, snapshots)
        say("putting it in place")
        finish(data_dir)
    return _told(data_dir, work, held, left, snapshots, finished=finished)


def _unknown(vehicle_id: str, feeds: dict[str, MappedFeed]) -> LedgerError:
    cars = [each.tables["vehicles"]["vehicle_id"] for each in feeds.values() if "vehicles" in each.tables]
    some = pl.concat([pl.Series("vehicle_id", [], dtype=pl.String), *cars]).drop_nulls().unique().sort().head(3)
    return LedgerError(
        f"no car {vehicle_id!r} was ever loaded",
        where="forget VEHICLE",
        next_step=f"write its id as it stands in the records, such as {', '.join(some) or 'in the export'}",
    )


def _build(work: _Work, steps: list[dict[str, Any]], say: Callable[[str], None]) -> dict[str, int]:
    """Repeat all that was done without the car's rows, in a data folder of its own; return what its ledger holds."""
    shutil.rmtree(work.folder, ignore_errors=True)
    done: list[dict[str, Any]] = []
    with open_ledger(work.folder, write=True) as connection:
        for step in steps:
            say(f"{step['did']} {step.get('load_id', '')} without the car".replace("  ", " "))
            with transaction(connection):
                done += _repeat(connection, work, step)
        connection.execute("checkpoint")
        held = _held(connection)
    note(work.folder, *done)
    return held


def _repeat(connection: duckdb.DuckDBPyConnection, work: _Work, step: dict[str, Any]) -> list[dict[str, Any]]:
    """Repeat one step of the journal; return it as it is to be noted now, or nothing where it was about the car."""
    if step["did"] == "load":
        return [_load(connection, work, step)]
    if step["did"] == "undo":
        again = undo_in(connection, work.folder, step["load_id"])
        _check([*again.values()], step["again"])
        return [step]
    if step["did"] != "withdraw":
        if step["kind"] == "vehicle" and {step["old"], step.get("new")} & work.car.names:
            return []
        repeat_name(connection, step)
        return [step]
    if answer(connection, "named_lines", name=step["name"]).is_empty():
        return []
    withdraw_in(connection, step["name"], step["reason"])
    return [step]


def _load(connection: duckdb.DuckDBPyConnection, work: _Work, step: dict[str, Any]) -> dict[str, Any]:
    mapped, text = work.feeds[step["feed"]]
    left = _renumbered(connection, without_car(step["feed"], mapped, work.car), work.quarantined)
    text = mapping_without_car(text, work.car)
    name = keep_feed(work.folder, left, text).name
    delivery = Delivery(left, kept_as(name), text, date.fromisoformat(step["loaded_on"]), step["complete"])
    report, _ = take(connection, delivery, lambda _: None)
    _check(report.load_id, step["load_id"])
    work.renamed.append((step["feed"], name))
    return {**step, "feed": name}


def _check(found: object, noted: object) -> None:
    if found != noted:
        raise LedgerError(
            f"load {noted} of the journal comes out as load {found}",
            where="journal.jsonl",
            next_step="run: wearledger doctor; the car was not forgotten, nothing was changed",
        )


def _renumbered(connection: duckdb.DuckDBPyConnection, mapped: MappedFeed, before: pl.DataFrame) -> MappedFeed:
    """Return a feed whose quarantine sheets name the rows they mend by the numbers these have without the car."""
    sheets = {table: frame for table, frame in mapped.tables.items() if CARRIED in frame.columns}
    if not sheets:
        return mapped
    now = answer(connection, "quarantine_place").select(*SAME_ROW, new="quarantine_id")
    numbers = before.join(now, on=SAME_ROW).select(old="quarantine_id", new=pl.col("new").cast(pl.String))
    for table, frame in sheets.items():
        keyed = frame.with_columns(old=pl.col(CARRIED).cast(pl.Int64, strict=False))
        joined = keyed.join(numbers, on="old", how="left", maintain_order="left")
        mapped.tables[table] = joined.with_columns(pl.col("new").alias(CARRIED)).drop("old", "new")
    return mapped


def _held(connection: duckdb.DuckDBPyConnection) -> dict[str, int]:
    return dict(answer(connection, "held_rows").rows())


def _plan(data_dir: Path, snapshots: list[str]) -> None:
    """Write, in one step, that all is prepared, and which snapshots are to go."""
    path = forgetting_plan(data_dir)
    beside = path.with_suffix(".tmp")
    with beside.open("w", encoding="utf-8") as file:
        json.dump({"snapshots": snapshots}, file)
        file.flush()
        os.fsync(file.fileno())
    beside.replace(path)


def _told(
    data_dir: Path, work: _Work, held: dict[str, int], left: dict[str, int], snapshots: list[str], *, finished: bool
) -> Forgotten:
    rows: dict[str, int] = {}
    mentions = 0
    for old, new in dict(work.renamed).items():
        before, (after, _) = work.feeds[old][0], read_feed(data_dir, new)
        for table, frame in before.tables.items():
            gone = frame.height - after.tables[table].height
            rows |= {table: rows.get(table, 0) + gone} if gone else {}
        mentions += rows_that_mention(after, work.car)
    pointer = data_dir / "snapshots" / "LATEST"
    return Forgotten(
        rows=rows,
        feeds=len({old for old, new in work.renamed if old != new}),
        held={kind: max(0, n - left[kind]) for kind, n in held.items()},
        snapshots=len(snapshots),
        newest=pointer.read_text(encoding="utf-8", errors="replace").strip() if pointer.is_file() else "",
        mentions=mentions,
        said=steps_that_mention(read_journal(data_dir), work.car),
        finished=finished,
    )
