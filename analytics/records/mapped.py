"""Read a feed and turn it into text tables with native columns; nothing is judged here."""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import FeedError
from analytics.records.blocks import their_columns
from analytics.records.careful_text import ROW
from analytics.records.feed import FEED
from analytics.records.known import Known
from analytics.records.mapping import NOT_STATED, Block, Format, Mapping
from analytics.records.native_rows import CARRIED, TELLING, Feeding, collect
from analytics.records.private_text import without_private_texts
from analytics.records.reading import (
    PARQUET,
    READABLE,
    WORKBOOKS,
    ReadOptions,
    Source,
    SourceTable,
    list_files,
    match_files,
    open_files,
    sha256_of,
)
from analytics.records.standard_input import StandardInput, for_standard_input, named_by_headings
from analytics.records.two_digit_years import within_lives

if TYPE_CHECKING:
    from collections.abc import MutableMapping
    from pathlib import Path

NAMES_NO_TABLE = "names no native table, not read"
EXAMPLE = "EXAMPLE"
"""A workbook row whose first key begins with this word is the template's own example and is skipped."""


NOTHING = Known()


@dataclass(frozen=True, slots=True)
class MappedFeed:
    """A feed after its mapping and before any judgement.

    Attributes
    ----------
    source
        The mapping's word for this export, empty for a native feed.
    tables
        Native table name to its rows: String columns (those native columns that are there), ``file``, and
        ``row_no`` (Int64, 1-based data row). A table with rows that could not be split also has ``unread``,
        which says why, and ``unread text``, the row as it stands in the file; both are null elsewhere.
    settings
        What the mapping says of defaults, by name; empty for a native feed.
    notes
        Sentences on what was not read, left out or renamed.
    files
        Name and SHA-256 of every file read.
    """

    source: str
    tables: MutableMapping[str, pl.DataFrame]
    settings: dict[str, str | int | float]
    notes: tuple[str, ...]
    files: tuple[tuple[str, str], ...]


def map_feed(path: Path, mapping: Mapping | None = None, known: Known = NOTHING) -> MappedFeed:
    """Read a file or a folder into native tables of text.

    Parameters
    ----------
    path
        CSV, XLSX or Parquet file, or the folder of such files.
    mapping
        How the files become native tables; None, or one without blocks = they are native, named after the tables.
    known
        What records loaded before tell of cars and parts.

    Returns
    -------
    MappedFeed
        Every row of the files is in a table, or counted in a note; free texts that seem to tell a person are masked.

    Raises
    ------
    FeedError
        If a file is missing, empty or no table, or lacks a required column; nothing is half-read.
    """
    return without_private_texts(within_lives(_map(path, mapping), known), known)


def _map(path: Path, mapping: Mapping | None) -> MappedFeed:
    if mapping is None:
        return _map_native(path)
    if not mapping.blocks:
        return replace(_map_native(path, mapping), source=mapping.source, settings=mapping.settings.as_dict())
    feeding, files, notes = _feeding(path, mapping)
    tables, more = collect(feeding, mapping.where)
    readable = [file.name for file in list_files(path) if file.suffix.lower() in READABLE]
    others = [name for name in readable if name not in files]
    notes += [*more, *_unused_columns(feeding), *(f"{name}: not named by the mapping, not read" for name in others)]
    return MappedFeed(mapping.source, tables, mapping.settings.as_dict(), tuple(notes), tuple(sorted(files.items())))


def _feeding(path: Path, mapping: Mapping) -> tuple[Feeding, dict[str, str], list[str]]:
    """Return each block with the source that feeds it, the files with their hashes, and notes."""
    if isinstance(path, StandardInput):
        mapping = for_standard_input(mapping, path)
    list_files(path)  # says what is wrong with the path
    feeding: Feeding = []
    files: dict[str, str] = {}
    notes = []
    sources: dict[tuple[str, ReadOptions], list[Source]] = {}
    for block in mapping.blocks:
        matched = match_files(path, block.file)
        if not matched:
            notes.append(f"{block.file}: not in this feed, its block for {block.table} was not used")
        for file in matched:
            key = (file.name, block.read)
            sources[key] = sources.get(key) or open_files([file], block.read)
            files[file.name] = sha256_of(file)
            feeding.append((block, _pick_sheet(sources[key], block, mapping.where)))
    missing = [block.file for block in mapping.blocks if not match_files(path, block.file)]
    if not feeding or (missing and path.is_dir()):
        raise FeedError(
            f"there is no file {missing[0]} in the feed",
            where=f"{mapping.where}, feed {path.name}",
            next_step="put the file there, or mend file in the mapping",
        )
    return feeding, files, notes


def feeding_of(path: Path, mapping: Mapping | None) -> Feeding:
    """Return each block with the source that feeds it; of a native feed, one for every table.

    Raises
    ------
    FeedError
        As `map_feed`.
    """
    if mapping is not None and mapping.blocks:
        return _feeding(path, mapping)[0]
    return _native_feeding(path, mapping)[0]


def _pick_sheet(tables: list[Source], block: Block, where: str) -> Source:
    named = [table for table in tables if block.sheet in {"", table.first.name}]
    if len(named) == 1:
        return named[0]
    raise FeedError(
        f"{block.file} has {len(tables)} sheets with values, none picked by sheet = {block.sheet!r}",
        where=f"{where}, block for {block.table}",
        next_step=f"state one of: {', '.join(table.first.name for table in tables)}",
    )


def _unused_columns(feeding: list[tuple[Block, Source]]) -> list[str]:
    named: dict[str, set[str]] = {}
    there: dict[str, list[str]] = {}
    for block, fed in feeding:
        source = fed.first
        named[source.file] = named.get(source.file, set()) | their_columns(block) | {*block.drop}
        there[source.file] = [name for name in source.frame.columns if name != ROW]
    unused = {file: [name for name in names if name not in named[file]] for file, names in there.items()}
    return [f"{file}: columns not read: {', '.join(names)}" for file, names in unused.items() if names]


def _map_native(path: Path, stated: Mapping | None = None) -> MappedFeed:
    feeding, used, notes = _native_feeding(path, stated)
    tables, more = collect(feeding, "native feed")
    return MappedFeed("", tables, {}, (*notes, *more), tuple(sorted(used.items())))


def _native_feeding(path: Path, stated: Mapping | None) -> tuple[Feeding, dict[str, str], list[str]]:
    notation = stated.format if stated else NOT_STATED
    files = list_files(path)
    readable = [file for file in files if file.suffix.lower() in READABLE]
    notes = [f"{file.name}: not a CSV, XLSX or Parquet file, not read" for file in files if file not in readable]
    feeding = []
    used: dict[str, str] = {}
    for file in readable:
        for whole in open_files([file]):
            source = named_by_headings(whole.first) if isinstance(file, StandardInput) else whole.first
            name = source.name.strip().lower()
            if name not in FEED:
                notes.append(f"{source.file}: {source.name} {NAMES_NO_TABLE}")
                continue
            renamed, names, more = _native_headings(source)
            notes += more
            block = _native_block(name, renamed, _native_format(file, notation))
            empty = {
                column: each
                for column, each in (stated.placeholders if stated else {}).items()
                if column in block.columns
            }
            feeding.append((replace(block, placeholders=empty), whole.renamed(renamed, names)))
            used[file.name] = sha256_of(file)
    if not feeding:
        raise FeedError(
            "nothing in the feed is named after a native table",
            where=str(path),
            next_step=f"name files or sheets {', '.join(FEED)}, or state a mapping",
        )
    return feeding, used, notes


def _native_headings(source: SourceTable) -> tuple[SourceTable, dict[str, str], list[str]]:
    """Give columns their native names where only capitals, spaces or hyphens differ; say which and what is unknown."""
    known = FEED[source.name.strip().lower()].names
    plain = {name: re.sub(r"[\s-]+", "_", name.strip().lower()) for name in source.frame.columns if name != ROW}
    taken = {*source.frame.columns}
    renamed = {name: new for name, new in plain.items() if new != name and new in known and new not in taken}
    notes = [f"{source.file}: column {name} read as {new}" for name, new in renamed.items()]
    frame = source.frame.rename(renamed)
    told = TELLING if CARRIED in frame.columns else ()
    unknown = [name for name in frame.columns if name not in {*known, CARRIED, ROW, *told}]
    if unknown:
        notes.append(f"{source.file}: columns not read: {', '.join(unknown)}")
    if source.from_sheet and frame.width > 1:
        first = next((name for name in known if name in frame.columns), frame.columns[0])
        kept = frame.filter(~pl.col(first).str.to_uppercase().str.starts_with(EXAMPLE).fill_null(value=False))
        if kept.height < frame.height:
            notes.append(f"{source.file}: {frame.height - kept.height} example row(s) left out")
        frame = kept
    return replace(source, frame=frame), renamed, notes


def _native_format(file: Path, stated: Format) -> Format:
    """Return how a native file is written: marks are stated for text, cells of other files hold numbers."""
    suffix = file.suffix.lower()
    if suffix in PARQUET:
        return replace(stated, decimal=".", thousands="")
    if suffix not in WORKBOOKS:
        return stated
    # a workbook is typed by hand: a date that is text is written day first, as the template asks
    order = "dmy" if stated.date_order == "iso" else stated.date_order
    return Format(order, decimal="", two_digit_years=stated.two_digit_years)


def _native_block(name: str, source: SourceTable, notation: Format) -> Block:
    table = FEED[name]
    there = [column for column in table.names if column in source.frame.columns]
    missing = [c for c in table.required if c not in there and table.column(c).default is None]
    if missing:
        raise FeedError(
            f"{source.file} has no column {', '.join(missing)}, which {name} must have",
            where=source.file,
            next_step=f"add it, or state a mapping; the file has: {', '.join(source.frame.columns[:-1])}",
        )
    carried = (CARRIED,) if CARRIED in source.frame.columns else ()
    if carried:
        # what nobody touched must wait for the same reason as before, not be read day first
        notation = replace(notation, date_order="iso")
    # a row that could not be split has only its text there: while nobody fills it in, it waits with that text
    return Block(
        name,
        source.file,
        columns={column: column for column in there},
        carried=carried,
        skip_empty=tuple(there) if carried else (),
        format=notation,
    )
