"""Keyed hashes in the place of vehicle ids, made before anything of a feed is written."""

from __future__ import annotations

import contextlib
import hashlib
import json
import os
import re
import secrets
from collections import Counter
from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import FeedError, LedgerError
from analytics.ledger.feeds import MANIFEST, feeds_dir
from analytics.ledger.journal import read_journal
from analytics.ledger.mentions import mentions
from analytics.records.blocks import CONTENT_ID, UNREAD_TEXT
from analytics.records.mapping import KEYED_HASH
from analytics.records.native_rows import CARRIED
from analytics.records.parts import Tables, changed, rows_of

if TYPE_CHECKING:
    from pathlib import Path

    from analytics.records import MappedFeed
    from analytics.records.parts import Rows

CAR, JOB = "car-", "job-"
"""What the name of a hidden car, and of a job whose number told the car, begins with."""

HIDDEN = re.compile(rf"^{CAR}[0-9a-f]{{16}}$")
MARK = "vehicle_key"
"""Setting that tells, in every feed with hidden cars, which key hid them; the key cannot be worked out from it."""

KEY_TEXT = re.compile(r"[0-9a-f]{64}\n")


def key_path(data_dir: Path) -> Path:
    """Return where the key of a data folder lies."""
    return data_dir / "private" / "key"


def hide_cars(data_dir: Path, mapped: MappedFeed) -> MappedFeed:
    """Return the feed with keyed hashes for vehicle ids, where its mapping states so.

    Parameters
    ----------
    data_dir
        Data folder; its key is made where there is none and none was used before.
    mapped
        The feed after its mapping.

    Returns
    -------
    MappedFeed
        In every table that has one, ``vehicle_id`` is a keyed hash; so is a ``record_id`` that was formed from the
        row's content or has the vehicle's id in it. The text of rows that could not be split is left out. A sheet of
        the quarantine is treated the same where the rows it mends were.

    Raises
    ------
    LedgerError
        If the key is missing, or is another one than the feeds before were hidden with.
    FeedError
        If two cars of the feed would get one name.
    """
    marks = _marks(data_dir)
    stated = mapped.settings.get("vehicle_id") == KEYED_HASH
    rows = {table: rows_of(mapped.tables, table) for table in mapped.tables}
    mends = any(CARRIED in each.columns for each in rows.values())
    if not stated and not (marks and mends):
        if not marks:
            return mapped
        told = (
            "cars loaded before are hidden by a keyed hash, those of this feed are not: if that is no intention, undo "
            f'this load, state vehicle_id = "{KEYED_HASH}" in the [settings] of its mapping, and load it again'
        )
        return replace(mapped, notes=(*mapped.notes, told))
    key = _key(data_dir, marks)
    names = _names(key, rows)
    notes = tuple(_still_told(rows))
    tables = Tables({table: changed(each, lambda part: _hidden(key, part, names)) for table, each in rows.items()})
    settings = {**mapped.settings, "vehicle_id": KEYED_HASH, MARK: mark_of(key)}
    return replace(mapped, tables=tables, settings=settings, notes=(*mapped.notes, *notes))


def known_as(data_dir: Path, vehicle_id: str) -> list[str]:
    """Return the names a car may have here: as it is written and, where there is a key, its keyed hash."""
    plain = vehicle_id.strip()
    if not key_path(data_dir).exists():
        return [plain]
    return [plain, _name(_read_key(data_dir), plain)]


def mark_of(key: bytes) -> str:
    """Return what feeds hidden by a key tell of it: enough to know it again, and no more."""
    return _digest(key, "")


def _digest(key: bytes, text: str) -> str:
    return hashlib.blake2b(text.encode(), key=key, digest_size=8).hexdigest()


def _name(key: bytes, plain: str) -> str:
    return plain if HIDDEN.match(plain) else CAR + _digest(key, plain)


def _names(key: bytes, tables: dict[str, Rows]) -> dict[str, str]:
    """Return the name of every car of the feed by its plain id."""
    named = [rows.only(["vehicle_id"]) for rows in tables.values() if "vehicle_id" in rows.columns]
    ids = [_plain(part).unique() for parts in named for part in parts]
    plain = pl.concat(ids).unique().drop_nulls().to_list() if ids else []
    names = {each: _name(key, each) for each in plain}
    made = [name for each, name in names.items() if name != each]
    if len({*made}) < len(made):
        raise FeedError(
            "two cars of this feed would get the same keyed hash",
            where="vehicle_id",
            next_step="report this; until then add a letter to one of the two ids in the export",
        )
    return names


def _plain(frame: pl.DataFrame) -> pl.Series:
    """Return vehicle ids as a judge reads them: without blanks around them, null where empty."""
    text = pl.col("vehicle_id").str.strip_chars()
    return frame.select(pl.when(text != "").then(text).alias("vehicle_id")).to_series()


def _hidden(key: bytes, frame: pl.DataFrame, names: dict[str, str]) -> pl.DataFrame:
    if UNREAD_TEXT in frame.columns:
        frame = frame.with_columns(pl.lit(None, dtype=pl.String).alias(UNREAD_TEXT))
    if "vehicle_id" not in frame.columns:
        return frame
    plain = _plain(frame)
    hidden = plain.replace_strict(names, default=None, return_dtype=pl.String)
    if "record_id" in frame.columns:
        frame = frame.with_columns(_hidden_jobs(key, frame, plain))
    return frame.with_columns(hidden.alias("vehicle_id"))


def _hidden_jobs(key: bytes, frame: pl.DataFrame, plain: pl.Series) -> pl.Series:
    """Return record ids; those formed from the content, and those with the car's id in them, as keyed hashes."""
    job = pl.col("record_id").str.strip_chars()
    # a sheet of the quarantine brings back what was formed and hidden before
    formed = job.str.starts_with(CONTENT_ID) if CARRIED not in frame.columns else pl.lit(value=False)
    car = pl.col("plain id")
    told = frame.with_columns(plain.alias("plain id")).select(
        job,
        formed=formed.fill_null(value=False),
        telling=job.str.contains(car, literal=True).fill_null(value=False),
        hidden=car.str.contains(HIDDEN.pattern).fill_null(value=False),
    )
    secret = told.filter((pl.col("formed") | pl.col("telling")) & ~pl.col("hidden"))
    digests = {each: _digest(key, each) for each in secret["record_id"].unique().to_list()}
    digest = pl.col("record_id").replace_strict(digests, default=None, return_dtype=pl.String)
    return told.select(
        pl.when(pl.col("hidden"))
        .then("record_id")
        .when("formed")
        .then(pl.lit(CONTENT_ID) + digest)
        .when("telling")
        .then(pl.lit(JOB) + digest)
        .otherwise("record_id")
        .alias("record_id")
    ).to_series()


def _still_told(tables: dict[str, Rows]) -> list[str]:
    """Return a sentence per column in which a row still tells the plain id of its car."""
    notes = []
    for table, rows in tables.items():
        found: Counter[str] = Counter()
        for part in rows if "vehicle_id" in rows.columns else ():
            found.update(_telling(part))
        notes += [
            f"{table}: column {name} still tells the car's plain id in {count} row(s); drop the column in the mapping, "
            "or take the id out of it, if it must not be kept"
            for name, count in found.items()
            if count
        ]
    return notes


def _telling(part: pl.DataFrame) -> dict[str, int]:
    texts = [
        name
        for name, dtype in part.schema.items()
        if dtype == pl.String and name not in {"vehicle_id", "record_id", "line_no", CARRIED, UNREAD_TEXT}
    ]
    shown = part.with_columns(_plain(part)).filter(~pl.col("vehicle_id").str.contains(HIDDEN.pattern))
    return shown.select(mentions(pl.col(name), pl.col("vehicle_id")).sum().alias(name) for name in texts).row(
        0, named=True
    )


def _marks(data_dir: Path) -> set[str]:
    """Return the marks of the keys that kept feeds were hidden with."""
    marks = set()
    for feed in {step["feed"] for step in read_journal(data_dir) if step["did"] == "load"}:
        with contextlib.suppress(OSError, ValueError, KeyError, TypeError):  # the doctor tells a damaged feed
            manifest = json.loads((feeds_dir(data_dir) / feed / MANIFEST).read_text(encoding="utf-8"))
            marks.add(str(manifest["settings"][MARK]))
    return marks


def _key(data_dir: Path, marks: set[str]) -> bytes:
    """Return the key; make it where none was used before."""
    path = key_path(data_dir)
    if not path.exists():
        if marks:
            raise LedgerError(
                "the key that hides vehicle ids is not here, and another one would give the same cars new names",
                where=str(path),
                next_step="put the file back from a backup made with --with-key, then run the same command again",
            )
        _make_key(path)
    key = _read_key(data_dir)
    if marks - {mark_of(key)}:
        raise LedgerError(
            "this is another key than the one that hid the vehicle ids of the ledger",
            where=str(path),
            next_step="put the right key file back from a backup made with --with-key",
        )
    return key


def _read_key(data_dir: Path) -> bytes:
    path = key_path(data_dir)
    text = path.read_text(encoding="ascii", errors="replace")
    if not KEY_TEXT.fullmatch(text):
        raise LedgerError(
            "the key that hides vehicle ids is not what was written",
            where=str(path),
            next_step="put the file back from a backup made with --with-key",
        )
    return bytes.fromhex(text)


def _name_it(beside: Path, path: Path) -> None:
    """Give a file its name; one of that name which is there stays, where the disk knows links."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise
    except OSError:
        if not path.exists():
            beside.replace(path)


def _make_key(path: Path) -> None:
    """Write a new key, for its owner's eyes only, whole or not at all; one that is there already stays."""
    path.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
    beside = path.with_name(f".key.{os.getpid()}.{secrets.token_hex(4)}")
    handle = os.open(beside, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600)
    try:
        with os.fdopen(handle, "w", encoding="ascii", newline="\n") as file:
            file.write(secrets.token_hex(32) + "\n")
            file.flush()
            os.fsync(file.fileno())
        with contextlib.suppress(FileExistsError):
            _name_it(beside, path)
    finally:
        beside.unlink(missing_ok=True)
