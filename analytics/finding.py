"""One finding on the records, as a row of ``data_quality``."""

from __future__ import annotations

import polars as pl

FINDING = {
    "kind": pl.String,
    "count": pl.Int64,
    "out_of": pl.Int64,
    "example_record": pl.String,
    "says": pl.String,
}
"""Columns of a frame of findings."""


def finding(kind: str, count: int, out_of: int, says: str, example: str | None = None) -> pl.DataFrame:
    """Return one row, none where nothing was counted.

    Parameters
    ----------
    kind
        What was found.
    count, out_of
        How often, and of how many; 0 = of nothing that is counted.
    says
        What became of it, and what to do.
    example
        One record or row that has it.
    """
    row = (kind, count, out_of, example, says)
    return pl.DataFrame([row] if count else [], FINDING, orient="row")
