"""Cells of files that other programs open: nothing in them may be taken for a formula."""

from __future__ import annotations

import re

import polars as pl

RISKY = r"^[=+\-@\t\r]"
"""How a cell begins that a spreadsheet would run; OWASP's list for CSV files."""

PLAIN_NUMBER = r"^[+\-]?\d+([.,]\d+)?$"


def neutralised(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the frame with an apostrophe before every text cell that a spreadsheet would run.

    Numbers written as text stay as they are.

    Examples
    --------
    >>> neutralised(pl.DataFrame({"a": ["=1+1", "-5", "hose"]}))["a"].to_list()
    ["'=1+1", '-5', 'hose']
    """
    risky = pl.col(pl.String).str.contains(RISKY) & ~pl.col(pl.String).str.contains(PLAIN_NUMBER)
    if not any(dtype == pl.String for dtype in frame.dtypes):
        return frame
    return frame.with_columns(pl.when(risky).then("'" + pl.col(pl.String)).otherwise(pl.col(pl.String)).name.keep())


def risky(text: str) -> bool:
    """Whether a spreadsheet would run a cell of this text, were it typed in.

    Examples
    --------
    >>> risky("=1+1"), risky("hose")
    (True, False)
    """
    return re.match(RISKY, text) is not None
