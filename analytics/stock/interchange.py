"""Which part numbers serve one another: groups joined by supersession, never by looks."""

from __future__ import annotations

import numpy as np
import polars as pl

from analytics.estimators.chains import ends, opened


def interchange_groups(parts: pl.DataFrame) -> pl.DataFrame:
    """Say for each part number which group it belongs to and under which number the group is ordered.

    Parameters
    ----------
    parts
        Feed table ``parts``: `part_no`, `superseded_by`, `looks_like`; several rows per number allowed.

    Returns
    -------
    polars.DataFrame
        `part_no`, `live_no` (the number that nothing supersedes), `in_circle` (numbers supersede each other in a
        circle, and this is one of them), sorted by `part_no`.

    Notes
    -----
    Numbers in one chain of `superseded_by` form a group; a number that only looks alike stays out.
    Where several chains end in different live numbers, each number goes to the end of its own chain.
    A circle is opened at its smallest number, which counts as the live one; a number that supersedes itself is live.
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
    step, circling = opened(step)
    return pl.DataFrame({"part_no": numbers, "live_no": numbers.gather(ends(step)), "in_circle": circling})
