"""Which part numbers serve one another: groups joined by supersession, never by looks."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.chains import ends, opened

if TYPE_CHECKING:
    from numpy.typing import NDArray


def interchange_groups(parts: pl.DataFrame) -> pl.DataFrame:
    """Say for each part number which group it belongs to and under which number the group is ordered.

    Parameters
    ----------
    parts
        Feed table ``parts``: `part_no`, `superseded_by`, `lead_time_days`; several rows per number allowed.

    Returns
    -------
    polars.DataFrame
        `part_no`, `live_no` (the number that nothing supersedes), `in_circle` (three or more numbers supersede each
        other in a circle, and this is one of them), sorted by `part_no`.

    Notes
    -----
    Numbers in one chain of `superseded_by` form a group; a number that only looks alike stays out.
    Where several chains end in different live numbers, each number goes to the end of its own chain.
    Two numbers that name each other serve for one another: the group is ordered under the one with a lead time, else
    under the smaller one. A circle of more is opened at its smallest number, which counts as the live one; a number
    that supersedes itself is live.
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
    either = np.flatnonzero((step[step] == np.arange(step.size)) & (step != np.arange(step.size)))
    live = _bought(parts, numbers)
    for one in either[either < step[either]]:  # pairs that serve for one another
        kept = step[one] if live[step[one]] and not live[one] else one
        step[kept] = kept
    step, circling = opened(step)
    return pl.DataFrame({"part_no": numbers, "live_no": numbers.gather(ends(step)), "in_circle": circling})


def _bought(parts: pl.DataFrame, numbers: pl.Series) -> NDArray[np.bool_]:
    """Return whether a lead time is stated for each number."""
    if "lead_time_days" not in parts.columns:
        return np.zeros(len(numbers), dtype=np.bool_)
    stated = parts.filter(pl.col("lead_time_days").is_not_null())["part_no"].unique().to_list()
    return numbers.is_in(stated).to_numpy()
