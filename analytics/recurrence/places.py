"""The tree of places: which place is part of which, and how deep."""

from __future__ import annotations

import numpy as np
import polars as pl

from analytics.estimators.chains import opened


def without_circles(locations: pl.DataFrame) -> pl.DataFrame:
    """Return the places with every circle opened: the smallest of a circle's places becomes a topmost one.

    Parameters
    ----------
    locations
        Feed table ``locations``; may be empty.

    Returns
    -------
    polars.DataFrame
        The same rows and columns, `parent` empty where a circle was opened and where a place is its own parent, and
        `in_circle`: places are part of each other in a circle, and this is one of them.
    """
    named = locations.unique("location", maintain_order=True, keep="first").sort("location").with_row_index("place")
    above = named.join(named.select(parent="location", above="place"), on="parent", how="left", maintain_order="left")
    known = above["above"].is_not_null().to_numpy()
    step, circling = opened(above.select(pl.coalesce("above", "place").cast(pl.Int64)).to_series().to_numpy())
    topmost = known & (step == np.arange(step.size))
    found = above.select("location", in_circle=pl.Series(circling), topmost=pl.Series(topmost))
    return (
        locations.join(found, on="location", how="left", maintain_order="left")
        .with_columns(parent=pl.when(~pl.col("topmost")).then("parent"))
        .drop("topmost")
    )


def place_tree(locations: pl.DataFrame, recorded: pl.Series) -> pl.DataFrame:
    """Return every place with each place it is part of, itself included.

    Parameters
    ----------
    locations
        Feed table ``locations``; may be empty. Circles are opened as `without_circles` says.
    recorded
        Places named in records; those that `locations` does not know stand alone.

    Returns
    -------
    polars.DataFrame
        `location`, `ancestor` (itself or a place above it), `depth` of the ancestor (1 = top).
    """
    locations = without_circles(locations)
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
    while not current.is_empty():
        chains.append(current)
        current = (
            current.join(parents, left_on="ancestor", right_on="location", how="inner")
            .filter(pl.col("parent").is_not_null())
            .select("location", ancestor="parent", up=pl.lit(len(chains)))
        )
    return _with_depth(pl.concat(chains) if chains else current)


def _with_depth(chains: pl.DataFrame) -> pl.DataFrame:
    depth = chains.group_by("location").agg(depth=pl.len())
    return (
        chains.join(depth.rename({"location": "ancestor"}), on="ancestor", how="left")
        .with_columns(depth=pl.col("depth").fill_null(1).cast(pl.Int64))
        .select("location", "ancestor", "depth")
        .sort("location", "depth")
    )
