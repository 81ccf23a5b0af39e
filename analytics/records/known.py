"""What is known before a feed is read: years in which cars were built, and words that are part numbers."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.parts import rows_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

BUILT = {"vehicle_id": pl.String, "built": pl.Int64}
PART_COLUMNS = ("part_no", "removed_part_no", "superseded_by", "looks_like")
"""Columns of any table that hold part numbers."""


def _no_years(_: pl.Series) -> pl.DataFrame:
    return pl.DataFrame(schema=BUILT)


@dataclass(frozen=True, slots=True)
class Known:
    """What the records loaded before tell; asked only where a feed leaves it open.

    Attributes
    ----------
    years_built
        Returns, for vehicle ids as the feed writes them, ``vehicle_id`` and the year ``built`` of those that are known.
    part_numbers
        Returns words that are part numbers.
    """

    years_built: Callable[[pl.Series], pl.DataFrame] = field(default=_no_years)
    part_numbers: Callable[[], frozenset[str]] = field(default=frozenset)


def part_numbers_of(tables: Mapping[str, pl.DataFrame]) -> frozenset[str]:
    """Return the words that stand in a part column of any table of a feed.

    Examples
    --------
    >>> sorted(part_numbers_of({"parts": pl.DataFrame({"part_no": [" P1", None], "looks_like": ["P2;P3", ""]})}))
    ['P1', 'P2', 'P3']
    """
    columns = [
        part[name].drop_nulls().unique().str.split(";").explode().str.strip_chars()
        for table in tables
        for part in rows_of(tables, table).only(PART_COLUMNS)
        for name in part.columns
    ]
    return frozenset(word for column in columns for word in column.unique().drop_nulls() if word)
