"""Have the rows of one table judged, each under the settings it was first read with, and compare with the ledger."""

from __future__ import annotations

import json
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import duckdb
import polars as pl

from analytics.errors import LedgerError
from analytics.ledger.placing import INFERRED, WITH_CAR, Placing, begin, known_by, numbered, place, store, waits
from analytics.ledger.queries import Frames, answer, keep, query
from analytics.parameters import Parameters
from analytics.records import judge
from analytics.records.ahead import ahead
from analytics.records.blocks import UNREAD_TEXT
from analytics.records.native_rows import CARRIED
from analytics.records.repeated import repeated_keys

if TYPE_CHECKING:
    from collections.abc import Iterator
    from datetime import date

    from analytics.records import Judged
    from analytics.records.parts import Rows
    from analytics.records.table import Table

ORDERS = "repairs"
PART = 65_536
"""Rows judged at a time."""


@dataclass(frozen=True, slots=True)
class Run:
    """One load under way.

    Attributes
    ----------
    connection
        Ledger open for writing, inside a transaction.
    load_id
        Number of the load.
    source, settings
        Of the mapped feed.
    loaded_on
        Day of loading.
    complete
        Whether the feed holds everything its source has.
    waiting
        Feed tables with rows that wait to be mended.
    """

    connection: duckdb.DuckDBPyConnection
    load_id: int
    source: str
    settings: dict[str, Any]
    loaded_on: date
    complete: bool
    waiting: frozenset[str]


@dataclass(slots=True)
class _Found:
    """What the parts of a table leave to be looked at together."""

    texts: list[pl.DataFrame]
    refused: list[pl.DataFrame]
    aside: list[pl.DataFrame]
    tally: list[pl.DataFrame]
    placing: Placing


def judge_table(run: Run, table: Table, rows: Rows) -> None:
    """Judge one table of a feed and leave the outcome in temporary tables.

    Parameters
    ----------
    run
        The load under way.
    table
        Declared feed table.
    rows
        Mapped rows: native columns as text, ``file``, ``row_no``, and ``quarantine_id`` on a quarantine sheet.

    Notes
    -----
    Rows that stand alone are taken part by part, as `placing.place` says. Of the others this leaves ``doubtful``
    (typed rows), ``read_row`` (those and refused ones as read), ``decided`` (what becomes of each doubtful row),
    ``refused`` (rows that go to quarantine), ``set_aside_in`` (values of doubtful rows) and ``tally_in`` (counts). All
    name a row by ``n``, its place in `rows`, because a file's row may have become several.
    """
    connection = run.connection
    begin(connection, table)
    shared = repeated_keys(table, rows.only([*table.key, "file", "row_no"]), run.loaded_on)
    # a part is judged in a thread while another is stored: what it is known by is asked of a database of its own
    with ThreadPoolExecutor(max_workers=1) as pool, duckdb.connect(":memory:", config={"threads": 1}) as beside:
        placing = Placing(connection, table, run.load_id, Frames(connection), pool)
        found = _Found([], [], [], [], placing)
        parts = _judged(run, table, rows, shared, beside)
        # where the rows of a quarantine sheet come from is asked of the ledger, so they are judged in turn
        for placed, judged in parts if CARRIED in rows.columns else ahead(parts):
            _take_part(run, table, placed, judged, found)
            if CARRIED not in rows.columns:
                store(placing)
        store(placing, rest=True)
        placing.settle()
    placing.frames.clear()
    key = {"paths": [f"$.{name}" for name in table.key], "defaults": json.dumps(_defaults(table))}
    connection.register("text_in", pl.concat(found.texts))
    connection.register("tally_in", pl.concat(found.tally))
    keep(connection, "read_row", "read_row", **key)
    keep(connection, "incoming", "incoming", numbered=numbered(table))
    keep(
        connection,
        "compared",
        "compared",
        revisions=f"{table.name}_revision",
        has_car=table.name in WITH_CAR,
    )
    renumber_days = Parameters().renumber_days
    keep(connection, "decided", "decide", is_order=table.name == ORDERS, renumber_days=renumber_days)
    keep(connection, "clash", "refused", key=", ".join(table.key))
    connection.register("refused_in", pl.concat(found.refused))
    keep(connection, "refused", "refused_all")
    connection.register("set_aside_in", pl.concat(found.aside))


def _judged(
    run: Run, table: Table, rows: Rows, shared: pl.Series, beside: duckdb.DuckDBPyConnection
) -> Iterator[tuple[pl.DataFrame, list[Judged]]]:
    """Give the rows part by part, with where they come from and what they were judged to be."""
    first, frames = 0, Frames(beside)
    for part in (piece for whole in rows for piece in whole.iter_slices(PART)):
        placed = _with_provenance(run, table, part, first).with_columns(shared=shared.slice(first, part.height))
        several = CARRIED in part.columns and placed.get_column(CARRIED).count() > 0
        pieces = placed.partition_by("settings_load") if several else [placed]
        judged = [_judge(run, table, piece) for piece in pieces]
        yield placed, [replace(each, accepted=known_by(frames, beside, table, each.accepted)) for each in judged]
        first += part.height


def _take_part(run: Run, table: Table, placed: pl.DataFrame, judged: list[Judged], found: _Found) -> None:
    """Take the rows of one part that stand alone, and note what is left of the others."""
    if table.name in run.waiting:
        waiting = waits(found.placing, placed)
        placed = placed.with_columns(pl.col("shared") | pl.col("n").is_in(waiting.implode()))
    accepted = pl.concat([each.accepted for each in judged]).select(
        *table.names, INFERRED, "key_text", "content_hash", n=pl.col("row_no").cast(pl.Int64)
    )
    owners = placed.select(
        "n", "file", "row_no", CARRIED, "feed_source", shared=pl.col("shared") | pl.col(CARRIED).is_not_null()
    )
    owned = owners.join(accepted.select("n"), on="n", how="semi", maintain_order="left").drop("n")
    aside = pl.concat([each.set_aside for each in judged])
    values = aside.select(n=pl.col("row_no").cast(pl.Int64), column_name="column", value="value", says="says")
    typed = pl.concat([accepted.sort("n") if len(judged) > 1 else accepted, owned], how="horizontal")
    verdicts = place(found.placing, typed, values)
    doubtful = verdicts.filter(verdict="doubtful")["n"].implode()
    refused = pl.concat([_refusals(each) for each in judged])
    told = pl.col("n").is_in(doubtful) | pl.col("n").is_in(refused["n"].implode())
    native = [name for name in (*table.names, UNREAD_TEXT) if name in placed.columns]
    owner = ["n", "file", "row_no", CARRIED, "feed_source", "settings_load"]
    found.texts.append(placed.filter(told).select(*owner, *native))
    found.refused.append(refused)
    found.aside.append(values.filter(pl.col("n").is_in(doubtful)))
    found.tally.append(_tally(placed, verdicts, aside))
    if run.complete and table.name == ORDERS:
        found.placing.frames.show("brought_in", verdicts.filter(pl.col("verdict") != "doubtful"))
        run.connection.execute(query("per_table/bring"))


def _tally(placed: pl.DataFrame, verdicts: pl.DataFrame, aside: pl.DataFrame) -> pl.DataFrame:
    """Count, by file, rows read, rows taken or known as they stand alone, and values set aside."""
    verdict = pl.col("verdict")
    alone = verdicts.group_by("file").agg(accepted=(verdict == "new").sum(), unchanged=(verdict == "unchanged").sum())
    counted = (
        placed.group_by("file")
        .agg(rows_read=pl.len())
        .join(alone, on="file", how="left")
        .join(aside.group_by("file").agg(set_aside=pl.len()), on="file", how="left")
    )
    counts = pl.col("rows_read", "accepted", "unchanged", "set_aside")
    return counted.select("file", counts.fill_null(0).cast(pl.Int64))


def check_identity(counted: pl.DataFrame) -> None:
    """Check that every row read is accounted for, once.

    Parameters
    ----------
    counted
        rows_read, accepted, unchanged, revised, quarantined per table and file.

    Raises
    ------
    LedgerError
        If rows read are not accepted + unchanged + revised + quarantined.
    """
    told = pl.sum_horizontal("accepted", "unchanged", "revised", "quarantined")
    wrong = counted.filter(pl.col("rows_read") != told)
    if wrong.height:
        first = wrong.row(0, named=True)
        raise LedgerError(
            f"of {first['rows_read']} rows read {first['accepted']} are new, {first['unchanged']} unchanged, "
            f"{first['revised']} revised and {first['quarantined']} quarantined, which does not add up; "
            "nothing was loaded",
            where=f"{first['table_name']}, {first['file']}",
            next_step="report this with the file; it is a fault of the program, not of the records",
        )


def _with_provenance(run: Run, table: Table, rows: pl.DataFrame, first: int) -> pl.DataFrame:
    """Add place, source and settings; a row of the quarantine sheet keeps those it had."""
    rows = rows.with_row_index("n", offset=first).with_columns(pl.col("n").cast(pl.Int64))
    if CARRIED not in rows.columns:
        own = {"feed_source": pl.lit(run.source), "settings_load": pl.lit(run.load_id, dtype=pl.Int64)}
        return rows.with_columns(pl.lit(None, dtype=pl.Int64).alias(CARRIED), **own)
    held = answer(run.connection, "provenance", table=table.name)
    known = rows.with_columns(pl.col(CARRIED).cast(pl.Int64, strict=False)).join(held, on=CARRIED, how="left")
    return (
        known.sort("n")
        .with_columns(
            feed_source=pl.col("held_source").fill_null(run.source),
            settings_load=pl.col("held_settings").fill_null(run.load_id),
        )
        .drop("held_source", "held_settings")
    )


def _judge(run: Run, table: Table, part: pl.DataFrame) -> Judged:
    load_id = part["settings_load"][0]
    settings = run.settings if load_id == run.load_id else settings_of(run.connection, load_id)
    text = part.drop("row_no", CARRIED, "feed_source", "settings_load", "shared").rename({"n": "row_no"})
    return judge(table.name, text, loaded_on=run.loaded_on, settings=settings)


def settings_of(connection: duckdb.DuckDBPyConnection, load_id: int) -> dict[str, Any]:
    """Return the settings a load was read with."""
    stored = answer(connection, "setting_of", load_id=load_id)
    return {name: json.loads(value) for name, value in stored.rows()}


def _defaults(table: Table) -> dict[str, Any]:
    named = [table.column(name) for name in table.key]
    return {column.name: column.default for column in named if column.default is not None}


def _refusals(judged: Judged) -> pl.DataFrame:
    return judged.quarantined.select(
        n=pl.col("row_no").cast(pl.Int64),
        contested=pl.lit(value=False),
        column_name=pl.col("column").fill_null(""),
        value=pl.col("value"),
        says=pl.col("says"),
        vehicle_id=pl.col("vehicle_id"),
        day=pl.col("day"),
        planned=pl.col("planned").fill_null(value=False),
    )
