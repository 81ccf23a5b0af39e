"""Collect the native rows that the files of a feed give, part by part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.records.ahead import ahead
from analytics.records.blocks import UNREAD, UNREAD_TEXT, apply_block, unread_rows
from analytics.records.careful_text import ROW
from analytics.records.course import Course, once
from analytics.records.feed import FEED
from analytics.records.parts import Parts, Tables

if TYPE_CHECKING:
    from analytics.records.mapping import Block
    from analytics.records.reading import Source

CARRIED = "quarantine_id"
"""Column of a mended quarantine sheet that says which row is mended; it goes along to the ledger."""

TELLING = ("column", "value", "what to do", "from source", "from file", "from row")
"""Columns of that sheet beside those to mend; they are not read."""

Feeding = list[tuple["Block", "Source"]]


def collect(feeding: Feeding, where: str) -> tuple[Tables, list[str]]:
    """Apply every block; rows that cannot be split go to the jobs, else to the first table their file feeds, once.

    Parameters
    ----------
    feeding
        Blocks, each with the source that feeds it, in the order in which their rows are to stand.
    where
        Mapping file, for messages.

    Returns
    -------
    tuple of Tables and notes
        Rows by native table, and sentences on what was left out.
    """
    sources = {id(source): source for _, source in feeding}
    courses = [Course() for _ in feeding]
    rows = [Parts() for _ in feeding]
    notes: list[list[str]] = [[] for _ in feeding]
    told: set[str] = set()
    for key, source in sources.items():
        places = [place for place, (_, fed) in enumerate(feeding) if id(fed) == key]
        broken, blank = _map_source(feeding, places, where, rows, courses)
        if source.first.file not in told:
            first = next((place for place in places if feeding[place][0].table == "repairs"), places[0])
            if broken.height:
                blocks = [each for each, fed in feeding if fed.first.file == source.first.file]
                headings = {*source.first.frame.columns} - {ROW}
                rows[first].append(unread_rows(broken, blocks, headings, source.first.file))
            if blank:
                notes[first].append(f"{source.first.file}: {blank} row(s) without any value left out")
        told.add(source.first.file)
    tables: dict[str, Parts] = {}
    for (block, _), parts in zip(feeding, rows, strict=True):
        tables.setdefault(block.table, Parts()).extend(parts)
    said = [line for course, more in zip(courses, notes, strict=True) for line in (*course.told(), *more)]
    ordered = {name: parts.in_order(_columns(name)) for name, parts in tables.items()}
    return Tables(ordered), [*said, *_same_line_twice(ordered)]


def _map_source(
    feeding: Feeding, places: list[int], where: str, rows: list[Parts], courses: list[Course]
) -> tuple[pl.DataFrame, int]:
    """Map all parts of one source by each of its blocks; return its broken rows, and the number of blank ones."""
    broken: list[pl.DataFrame] = []
    blank = 0
    for part in ahead(feeding[places[0]][1].parts()):
        for place in places:
            rows[place].append(apply_block(feeding[place][0], part, where, courses[place]))
        broken.append(part.broken)
        blank += part.blank
    if any(courses[place].decimals & courses[place].doubted for place in places):
        # a later part showed that the point is a decimal mark: read the earlier ones again, knowing it
        for place in places:
            courses[place] = Course(decimals=courses[place].decimals)
            rows[place] = Parts()
        return _map_source(feeding, places, where, rows, courses)
    for place in places:
        block = feeding[place][0]
        if block.distinct:
            whole = pl.concat([rows[place].empty(), *rows[place]])
            rows[place] = Parts([once(whole, block, feeding[place][1].first.file, courses[place])])
    return pl.concat(broken), blank


def _columns(name: str) -> tuple[str, ...]:
    return (*FEED[name].names, CARRIED, "file", "row_no", UNREAD, UNREAD_TEXT)


def _same_line_twice(tables: dict[str, Parts]) -> list[str]:
    key = FEED["repairs"].key
    repairs = tables.get("repairs", Parts())
    if not {*key} <= {*repairs.columns}:
        return []
    hashes = [part.drop_nulls(key).select(pl.struct(key).hash().alias("key")).to_series() for part in repairs.only(key)]
    lines = pl.concat([pl.Series("key", [], dtype=pl.UInt64), *hashes])
    again = len(lines) - lines.n_unique()
    return [f"repairs: {again} line(s) have the record_id and line_no of another one"] if again else []
