"""What the failure intervals of a component are told apart by: its slots, or the series of the cars."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from dashboards.answers.said import series_named


@dataclass(frozen=True, slots=True)
class Apart:
    """One way of telling failure intervals apart.

    Attributes
    ----------
    grouping
        Its name in the snapshot: position or series.
    noun, whole
        What one is called, and all together.
    """

    grouping: str
    noun: str
    whole: str

    def of(self, frame: pl.DataFrame) -> pl.DataFrame:
        """Return the rows of this grouping, its level in `position`.

        Parameters
        ----------
        frame
            Rows of ``failure_interval`` of one component.
        """
        if self is SLOTS:
            return frame.filter(pl.col("series") == "all")
        whole = frame.filter(pl.col("position") == "all")
        return whole.with_columns(position="series")

    def faults(self, frame: pl.DataFrame, level: str) -> pl.DataFrame:
        """Return the rows of ``fault`` that count for a level; a slot that rule 16 filled in is no evidence."""
        if level in ("all", "only"):
            return frame
        if self is SLOTS:
            return frame.filter((pl.col("position") == level) & ~pl.col("position_inferred"))
        return frame.filter(pl.col("series") == level)

    def named(self, level: str) -> str:
        """Return a level as a page writes it."""
        return level if self is SLOTS else series_named(level)


SLOTS = Apart("position", "slot", "all slots")
SERIES = Apart("series", "series", "all series")
BY = {"slot": SLOTS, "series": SERIES}
"""By the word that stands in the address."""
