"""Which part numbers serve one another: groups joined by supersession, never by looks."""

from __future__ import annotations

import numpy as np
import polars as pl

from analytics.errors import FeedError


def interchange_groups(parts: pl.DataFrame) -> pl.DataFrame:
    """Say for each part number which group it belongs to and under which number the group is ordered.

    Parameters
    ----------
    parts
        Feed table ``parts``: `part_no`, `superseded_by`, `looks_like`; several rows per number allowed.

    Returns
    -------
    polars.DataFrame
        `part_no`, `live_no` (the number that nothing supersedes), sorted by `part_no`.

    Raises
    ------
    FeedError
        If numbers supersede each other in a circle, so that no number is the live one.

    Notes
    -----
    Numbers in one chain of `superseded_by` form a group; a number that only looks alike stays out.
    Where several chains end in different live numbers, each number goes to the end of its own chain.
    """
    edges = (
        parts.select("part_no", "superseded_by")
        .filter(pl.col("superseded_by").is_not_null() & (pl.col("superseded_by") != pl.col("part_no")))
        .unique(maintain_order=True)
    )
    numbers = pl.concat([parts["part_no"], edges["superseded_by"]]).unique().sort()
    place = {number: at for at, number in enumerate(numbers.to_list())}
    step = np.arange(len(numbers))
    step[[place[n] for n in edges["part_no"]]] = [place[n] for n in edges["superseded_by"]]
    end = step
    for _ in range(max(1, len(numbers).bit_length())):  # doubling: a chain of n links needs log2(n) passes
        end = end[end]
    _refuse_circle(numbers, step, end)
    return pl.DataFrame({"part_no": numbers, "live_no": numbers.gather(end)})


def _refuse_circle(numbers: pl.Series, step: np.ndarray, end: np.ndarray) -> None:
    circle = step[end] != end
    if circle.any():
        names = ", ".join(sorted(set(numbers.gather(end[circle]).to_list())))
        raise FeedError(
            f"part numbers supersede each other in a circle: {names}",
            where="parts, column superseded_by",
            next_step="leave superseded_by empty on the number that is sold today, and load the table again",
        )
