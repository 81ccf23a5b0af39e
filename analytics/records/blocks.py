"""Turn one table of a file into rows of a native table, as one block of a mapping says; judge nothing."""

from __future__ import annotations

import string
from pathlib import Path
from typing import TYPE_CHECKING

import duckdb
import polars as pl

from analytics.errors import FeedError
from analytics.records.careful_text import ROW
from analytics.records.course import number_lines, once
from analytics.records.feed import FEED
from analytics.records.mapping import ANY_OTHER, Block, Format
from analytics.records.notation import doubtful_numbers, iso_dates, may_be_thousands, plain_numbers, shows_decimals
from analytics.records.placeholders import counted, take_out

if TYPE_CHECKING:
    from analytics.records.course import Course
    from analytics.records.reading import SourceTable

CONTENT_ID = "content-"
"""Beginning of a record number formed from the row's content."""

UNREAD = "unread"
"""Column of a mapped table that says why a row could not be split; present only where there is such a row."""

UNREAD_TEXT = "unread text"
"""Column of a mapped table with the whole text of such a row; null where it may hold what must not be kept."""

NOT_KEPT = "(text not kept)"
"""Stands for that text where it is not kept."""

MINUTES_PER_HOUR = 60

_CONTENT_ID_SQL = Path(__file__).with_name("content_id.sql")


def apply_block(block: Block, source: SourceTable, where: str, course: Course) -> pl.DataFrame:
    """Return the native rows one source table, or one part of it, gives.

    Parameters
    ----------
    block
        What the mapping says of this table and file.
    source
        The table as read, or the next part of it.
    where
        Mapping file, for messages.
    course
        What the parts before told; what was left out on the way is counted there.

    Returns
    -------
    DataFrame
        String columns the block fills, ``file`` and ``row_no``.

    Raises
    ------
    FeedError
        If the file lacks a column that the block names.
    """
    course.from_sheet = source.from_sheet
    theirs = [name for name in source.frame.columns if name != ROW]
    _need_columns(block, theirs, source.file, where)
    kept = _keep_rows(source.frame.drop(block.drop), block, source.file, course)
    parts = [_native_rows(kept, block, n, source, course) for n in block.numbers or (None,)]
    rows = pl.concat(parts).sort("row_no", "n", maintain_order=True) if len(parts) > 1 else parts[0]
    for name, count in counted(rows).items():
        course.note(f"{source.file}: {name}: ", count, " placeholder(s) taken for empty, as the mapping says")
    if block.skip_empty:
        full = rows.filter(pl.any_horizontal(pl.col(block.skip_empty).is_not_null()))
        why = "not filled in yet" if block.carried else f"no {' or '.join(block.skip_empty)}"
        course.left_out(rows.height - full.height, source.file, why)
        gone = rows["row_no"].n_unique() - full["row_no"].n_unique() if block.numbers else 0
        course.note(f"{source.file}: ", gone, f" whole row(s) of the file left out with them: {why} in any column")
        rows = full
    if block.table == "repairs" and "record_id" not in block.filled:
        rows = _number_by_content(rows)
    if block.table == "repairs" and "line_no" not in block.filled:
        rows = number_lines(rows, course)
    ordered = [name for name in FEED[block.table].names if name in rows.columns]
    rows = rows.select(*ordered, *block.carried, file=pl.lit(source.file), row_no="row_no")
    return once(rows, block, source.file, course) if block.distinct else rows


def their_columns(block: Block) -> set[str]:
    """Return every column of theirs that a block names, except the dropped ones."""
    named = {*block.columns.values()}
    numbered = {name.replace("{n}", str(n)) for name in named for n in block.numbers} if block.numbers else named
    templates = {field for each in block.templates.values() for field in _fields_of(each)}
    texts = {rules.column for rules in block.text.values()}
    ours = {"n", "year"} if block.numbers else {"year"}
    return numbered | (templates - ours) | texts | {*block.where, *block.skip, *block.content_id}


def unread_rows(broken: pl.DataFrame, blocks: list[Block], headings: set[str], file: str) -> pl.DataFrame:
    """Return the rows of a file that could not be split, with their text where every column of it is kept anyway.

    Parameters
    ----------
    broken
        `ROW`, ``says`` and ``text``.
    blocks
        All blocks the file feeds.
    headings
        Its columns.
    file
        Its name, as shown to people.

    Returns
    -------
    DataFrame
        ``file``, ``row_no``, `UNREAD` and `UNREAD_TEXT`.

    Notes
    -----
    Which piece of such a text belongs to which column is not known, so one column that is dropped, unknown, or only
    looked at may be anywhere in it.
    """
    kept = {name for block in blocks for name in (*_kept_columns(block), *block.carried)}
    whole = headings <= kept and not any(block.drop for block in blocks)
    says = pl.col("says")
    if not whole:
        why = "; its text is not kept, because not all columns of the file are: mend row {} of {} in the file itself"
        says = says + pl.format(why, pl.col(ROW), pl.lit(file))
    text = pl.col("text") if whole else pl.lit(None, dtype=pl.String)
    return broken.select(file=pl.lit(file), row_no=ROW, **{UNREAD: says, UNREAD_TEXT: text})


def _kept_columns(block: Block) -> set[str]:
    looked_at = {rules.column for rules in block.text.values()} | {*block.where, *block.skip, *block.content_id}
    named = {name.replace("{n}", str(n)) for name in block.columns.values() for n in block.numbers or ("",)}
    return (their_columns(block) - looked_at) | named


def _fields_of(template: str) -> list[str]:
    return [field for _, field, _, _ in string.Formatter().parse(template) if field]


def _need_columns(block: Block, theirs: list[str], file: str, where: str) -> None:
    missing = sorted((their_columns(block) | {*block.drop}) - {*theirs})
    if missing:
        raise FeedError(
            f"{file} has no column {', '.join(missing)}",
            where=f"{where}, block for {block.table}",
            next_step=f"use its own names: {', '.join(theirs)}",
        )
    hidden = sorted(their_columns(block) & {*block.drop})
    if hidden:
        raise FeedError(
            f"{', '.join(hidden)} is dropped and used in one block",
            where=f"{where}, block for {block.table}",
            next_step="take it out of drop, or out of the other lists",
        )


def _keep_rows(frame: pl.DataFrame, block: Block, file: str, course: Course) -> pl.DataFrame:
    if not block.where and not block.skip:
        return frame
    kept = frame.filter(
        *[pl.col(name).is_in(list(values)).fill_null(value="" in values) for name, values in block.where.items()],
        *[~pl.col(name).is_in(list(values)).fill_null(value="" in values) for name, values in block.skip.items()],
    )
    said = ", ".join((*block.where, *block.skip))
    course.left_out(frame.height - kept.height, file, f"by {said}, as the mapping says")
    return kept


def _native_rows(kept: pl.DataFrame, block: Block, n: int | None, source: SourceTable, course: Course) -> pl.DataFrame:
    number = "" if n is None else str(n)
    filled = _filled(kept, block, number, source, course)
    hits = take_out(filled, block, number)
    _state_units(filled, block.units)
    for name, template in block.templates.items():
        filled[name] = _compose(template, number, filled.get("closed_on"))
    content = sorted(block.content_id) or sorted(c.replace("{n}", number) for c in block.columns.values())
    if "record_id" in block.filled:
        content = []
    return kept.select(
        *block.carried,
        **filled,
        **hits,
        row_no=pl.col(ROW),
        n=pl.lit(n, dtype=pl.Int64),
        content=pl.concat_str(pl.col(content).fill_null(""), separator="\x1f") if content else pl.lit(""),
    )


def _filled(kept: pl.DataFrame, block: Block, number: str, source: SourceTable, course: Course) -> dict[str, pl.Expr]:
    """Native column to what fills it, except templates."""
    filled: dict[str, pl.Expr] = {}
    for name, theirs in block.columns.items():
        filled[name] = _value(pl.col(theirs.replace("{n}", number)), name, block)
    for name, rules in block.text.items():
        found = rules.expression()
        filled[name] = pl.coalesce(filled[name], found) if name in filled else found
    for name, text in filled.items():
        kind = FEED[block.table].column(name).kind
        if kind == "date":
            filled[name] = _days(kept, text, block.format, from_sheet=source.from_sheet)
        elif kind in {"number", "whole"}:
            filled[name] = _numbers(kept, text, name, block, course, number)
    return filled | {name: pl.lit(text) for name, text in block.constants.items()}


def _numbers(kept: pl.DataFrame, text: pl.Expr, name: str, block: Block, course: Course, number: str) -> pl.Expr:
    if block.format.decimal:
        return plain_numbers(text, block.format)
    counts = name == "odometer" or FEED[block.table].column(name).kind == "whole"
    doubts, shows = kept.select(may_be_thousands(text).any().alias("doubts"), shows_decimals(text).alias("shows")).row(
        0
    )
    if counts:
        return doubtful_numbers(text) if doubts else text
    if shows:
        course.decimals.add(name + number)
    # a cell that holds a number has a point before its decimals only
    if not doubts or course.from_sheet or name + number in course.decimals:
        return text
    course.doubted.add(name + number)
    return doubtful_numbers(text)


def _state_units(filled: dict[str, pl.Expr], units: dict[str, str]) -> None:
    if "odometer" in units and "odometer" in filled and "odometer_unit" not in filled:
        filled["odometer_unit"] = pl.when(filled["odometer"].is_not_null()).then(pl.lit(units["odometer"]))
    if units.get("labour_minutes") == "h" and "labour_minutes" in filled:
        minutes = filled["labour_minutes"].cast(pl.Float64, strict=False) * MINUTES_PER_HOUR
        filled["labour_minutes"] = pl.coalesce(minutes.cast(pl.String), filled["labour_minutes"])


def _value(text: pl.Expr, name: str, block: Block) -> pl.Expr:
    if not block.values.get(name):
        return text
    listed = dict(block.values[name])
    empty, other = listed.pop("", None), listed.pop(ANY_OTHER, None)
    word = text.str.to_lowercase()
    mapped = word.replace_strict(
        list(listed), list(listed.values()), default=text if other is None else pl.lit(other), return_dtype=pl.String
    )
    return pl.when(text.is_not_null()).then(mapped).otherwise(pl.lit(empty, dtype=pl.String)).replace("", None)


def _days(kept: pl.DataFrame, text: pl.Expr, notation: Format, *, from_sheet: bool) -> pl.Expr:
    """Rewrite dates: days repeat, so each is rewritten once and looked up."""
    if notation.date_order == "iso" and not from_sheet:
        return text
    days = kept.select(written=text.unique().drop_nulls())
    days = days.with_columns(iso=iso_dates(pl.col("written"), notation, from_sheet=from_sheet))
    return text.replace_strict(days["written"], days["iso"], default=None, return_dtype=pl.String)


def _compose(template: str, number: str, closed_on: pl.Expr | None) -> pl.Expr:
    pieces: list[pl.Expr] = []
    for literal, field, _, _ in string.Formatter().parse(template):
        if literal:
            pieces.append(pl.lit(literal))
        if field == "n" and number:
            pieces.append(pl.lit(number))
        elif field == "year" and closed_on is not None:
            pieces.append(closed_on.str.extract(r"^(\d{4})"))
        elif field:
            pieces.append(pl.col(field))
    return pl.concat_str(pieces)


def _number_by_content(rows: pl.DataFrame) -> pl.DataFrame:
    """Form ``record_id`` from the words of the row, so that the same export gives the same numbers again."""
    with duckdb.connect(":memory:") as connection:
        connection.register("content_in", rows.select("content").with_row_index("place"))
        digest = connection.sql(_CONTENT_ID_SQL.read_text(encoding="utf-8")).pl()
    return rows.with_columns(record_id=pl.lit(CONTENT_ID) + digest["digest"])
