"""The tree of places: which place is part of which, and how deep."""

from __future__ import annotations

import polars as pl

from analytics.errors import FeedError

DEEPEST = 12
"""Zone, area, point and a few more; a deeper chain is a circle."""


def place_tree(locations: pl.DataFrame, recorded: pl.Series) -> pl.DataFrame:
    """Return every place with each place it is part of, itself included.

    Parameters
    ----------
    locations
        Feed table ``locations``; may be empty.
    recorded
        Places named in records; those that `locations` does not know stand alone.

    Returns
    -------
    polars.DataFrame
        `location`, `ancestor` (itself or a place above it), `depth` of the ancestor (1 = top).

    Raises
    ------
    FeedError
        If places are part of each other in a circle.
    """
    unknown = recorded.drop_nulls().unique()
    unknown = unknown.filter(~unknown.is_in(locations["location"].to_list()))
    parents = pl.concat(
        [
            locations.select("location", "parent"),
            pl.DataFrame(
                {"location": unknown, "parent": [None] * len(unknown)},
                schema={"location": pl.String, "parent": pl.String},
            ),
        ]
    ).unique("location", maintain_order=True)
    chains, current = [], parents.select("location", ancestor="location", up=pl.lit(0))
    for up in range(1, DEEPEST + 1):
        chains.append(current)
        current = (
            current.join(parents, left_on="ancestor", right_on="location", how="inner")
            .filter(pl.col("parent").is_not_null())
            .select("location", ancestor="parent", up=pl.lit(up))
        )
        if current.is_empty():
            return _with_depth(pl.concat(chains))
    names = ", ".join(current["location"].unique().sort().head(3).to_list())
    raise FeedError(
        f"places are part of each other in a circle, for example {names}",
        where="locations, column parent",
        next_step="leave parent empty on the topmost place, and load the table again",
    )


def _with_depth(chains: pl.DataFrame) -> pl.DataFrame:
    depth = chains.group_by("location").agg(depth=pl.len())
    return (
        chains.join(depth.rename({"location": "ancestor"}), on="ancestor", how="left")
        .with_columns(depth=pl.col("depth").fill_null(1).cast(pl.Int64))
        .select("location", "ancestor", "depth")
        .sort("location", "depth")
    )
