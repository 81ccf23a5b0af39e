"""Two designs of one component, side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards.answers.life import state_of
from dashboards.words import still

if TYPE_CHECKING:
    from dashboards.answers.said import Row


def pair(models: pl.DataFrame, needed: int) -> list[Row]:
    """Return the two designs with most failures that have a firm life on this scale, in order of their names.

    `models`: rows of ``life_model`` of one component and scale. Fewer than two firm ones make no pair.
    """
    variants = models.filter((pl.col("grouping") == "variant") & (pl.col("level") != "unknown"))
    firm = [row for row in variants.iter_rows(named=True) if state_of(row, needed) == "ink"]
    firm.sort(key=lambda row: (-row["failures"], row["level"]))
    return sorted(firm[:2], key=lambda row: str(row["level"])) if len(firm) > 1 else []


def apart(a: Row, b: Row) -> bool:
    """Say whether the bands of two curves lie apart at one age."""
    return bool(a["upper"] < b["lower"] or b["upper"] < a["lower"])


def widest(a: pl.DataFrame, b: pl.DataFrame) -> tuple[Row, Row] | None:
    """Return the rows of the age at which two curves differ most, of those where their bands lie apart.

    `a`, `b`: time, survival, lower, upper; None where the bands lie apart nowhere.
    """
    rows_b = {row["time"]: row for row in b.drop_nulls().iter_rows(named=True)}
    both = [(row, rows_b[row["time"]]) for row in a.drop_nulls().iter_rows(named=True) if row["time"] in rows_b]
    clear = [(x, y) for x, y in both if apart(x, y)]
    return max(clear, key=lambda p: abs(still(p[0]["survival"]) - still(p[1]["survival"])), default=None)
