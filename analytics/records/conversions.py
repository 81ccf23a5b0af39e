"""Say what a mapping turns into something else on the way, with an example of each; nothing is kept of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.blocks import apply_block
from analytics.records.careful_text import ROW
from analytics.records.course import Course
from analytics.records.notation import UNCERTAIN

if TYPE_CHECKING:
    from analytics.records.mapping import Block
    from analytics.records.native_rows import Feeding
    from analytics.records.reading import SourceTable

NOT_SO = "(not written with"
"""Beginning of the remark behind a number that is not written as stated."""


@dataclass(slots=True)
class _Told:
    """How often a column of one block was changed, and the first example."""

    count: int = 0
    example: str = ""
    texts: int = 0


@dataclass(slots=True)
class _Block:
    block: Block
    course: Course = field(default_factory=Course)
    changed: dict[str, _Told] = field(default_factory=dict)

    def look(self, part: SourceTable, where: str) -> None:
        """Compare what is read of one part with what stands in it."""
        rows = apply_block(self.block, part, where, self.course)
        for name, theirs in self.block.columns.items():
            if name in rows.columns and theirs in part.frame.columns and name not in self.block.text:
                self._changed(name, _pairs(rows, part.frame, name, theirs))
        for name, rules in self.block.text.items():
            if name in rows.columns and name not in self.block.columns:
                self._found(name, _pairs(rows, part.frame, name, rules.column))

    def _changed(self, name: str, pairs: pl.DataFrame) -> None:
        remark = pl.any_horizontal(pl.col("ours").str.contains(each, literal=True) for each in (UNCERTAIN, NOT_SO))
        other = pairs.filter(pl.col("theirs").ne_missing(pl.col("ours")) & ~remark.fill_null(value=False))
        told = self.changed.setdefault(name, _Told())
        told.count += other.height
        if other.height and not told.example:
            row_no, theirs, ours = other.row(0)
            told.example = f"{theirs!r} -> {repr(ours) if ours else 'empty'} in row {row_no}"

    def _found(self, name: str, pairs: pl.DataFrame) -> None:
        found = pairs.filter(pl.col("ours").is_not_null())
        told = self.changed.setdefault(name, _Told())
        told.texts += pairs.height
        told.count += found.height
        if found.height and not told.example:
            told.example = f"{found['ours'][0]!r} in row {found['row_no'][0]}"

    def sentences(self) -> list[str]:
        """Return a sentence per column that was changed, read from text, formed, or dropped."""
        lines = []
        for name, told in self.changed.items():
            if name in self.block.text:
                as_what = f", as {told.example}" if told.example else ""
                column = self.block.text[name].column
                lines.append(f"  found in texts: {name} in {told.count} of {told.texts} {column!r}{as_what}")
            elif told.count:
                lines.append(f"  read otherwise: {name}, {told.count} value(s), as {told.example}")
        lines += [f"  formed: {name} from {text!r}" for name, text in self.block.templates.items()]
        lines += [f"  the same in every row: {name} {text!r}" for name, text in self.block.constants.items()]
        if self.block.numbers:
            lines.append(f"  numbered columns: a row for each of {', '.join(map(str, self.block.numbers))}")
        if self.block.drop:
            lines.append(f"  dropped: {', '.join(self.block.drop)}")
        return lines


def conversions(feeding: Feeding, where: str) -> dict[str, list[str]]:
    """Return, by native table, lines on what is read otherwise than it stands in the file.

    Parameters
    ----------
    feeding
        Blocks, each with the source that feeds it.
    where
        Mapping file, for messages.

    Notes
    -----
    Texts that rules read words out of are not shown, for they may tell a person.
    """
    lines: dict[str, list[str]] = {}
    for block, source in feeding:
        looked = _Block(block)
        for part in source.parts():
            looked.look(part, where)
        lines.setdefault(block.table, []).extend(looked.sentences())
    return lines


def _pairs(rows: pl.DataFrame, frame: pl.DataFrame, ours: str, theirs: str) -> pl.DataFrame:
    """Return row_no, theirs and ours wherever the file holds something."""
    read = rows.select("row_no", ours=ours)
    there = frame.select(pl.col(ROW).cast(pl.Int64).alias("row_no"), theirs=theirs).drop_nulls()
    return there.join(read.with_columns(pl.col("row_no").cast(pl.Int64)), on="row_no", how="inner")
