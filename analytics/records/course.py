"""What the parts of a table tell one another while they are mapped."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from analytics.records.mapping import Block


@dataclass(slots=True)
class Course:
    """What is known of a table while its parts are mapped, one after the other.

    Attributes
    ----------
    notes
        How often something was left out, by the words before and after the number.
    decimals
        Columns in which some number shows that the point is a decimal mark.
    doubted
        Columns of which a part held numbers with a doubtful point and none of these.
    lines
        Lines of each job so far, by a hash of the job.
    from_sheet
        Whether the table is a sheet of a workbook.
    """

    notes: dict[tuple[str, str], int] = field(default_factory=dict)
    decimals: set[str] = field(default_factory=set)
    doubted: set[str] = field(default_factory=set)
    lines: pl.DataFrame = field(default_factory=lambda: pl.DataFrame(schema={"job": pl.UInt64, "lines": pl.Int64}))
    from_sheet: bool = False

    def note(self, before: str, count: int, after: str) -> None:
        """Count something that was left out."""
        self.notes[before, after] = self.notes.get((before, after), 0) + count

    def left_out(self, count: int, file: str, why: str) -> None:
        """Count rows that were left out."""
        self.note(f"{file}: ", count, f" row(s) left out: {why}")

    def told(self) -> list[str]:
        """Return what was left out, in sentences."""
        return [f"{before}{count}{after}" for (before, after), count in self.notes.items() if count]


def once(rows: pl.DataFrame, block: Block, file: str, course: Course) -> pl.DataFrame:
    """Return the rows without those that repeat another one."""
    kept = rows.unique(pl.exclude("row_no"), keep="first", maintain_order=True)
    course.left_out(rows.height - kept.height, file, f"a repetition for {block.table}")
    return kept


def number_lines(rows: pl.DataFrame, course: Course) -> pl.DataFrame:
    """Give the lines of one job numbers in the order of the file, so that equal lines are all kept."""
    names = [name for name in ("record_id", "vehicle_id", "closed_on") if name in rows.columns]
    numbered = rows.with_columns(job=pl.struct(names).hash()).join(
        course.lines, on="job", how="left", maintain_order="left"
    )
    within = pl.int_range(1, pl.len() + 1).over(names)
    numbered = numbered.with_columns(line_no=(pl.col("lines").fill_null(0) + within).cast(pl.String))
    more = rows.group_by(job=pl.struct(names).hash()).agg(lines=pl.len().cast(pl.Int64))
    course.lines = pl.concat([course.lines, more]).group_by("job").agg(pl.col("lines").sum())
    return numbered.drop("job", "lines")
