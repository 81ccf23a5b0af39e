"""Levels of a grouping against each other: which design, origin, series or repair lasts longer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators import adjust_p_values, life_ratios

if TYPE_CHECKING:
    from analytics.estimators import LifeLaws
    from analytics.parameters import Parameters

COMPARED = ("variant", "part_origin", "series", "action")
UNTOLD = ("unknown", "as found")
"""Levels that are no level: what nobody told."""

WITHIN = ["component", "grouping", "scale"]
MOST_LEVELS = 12
"""Of a grouping with more levels, those with most failures are compared."""


def comparisons(laws: LifeLaws, parameters: Parameters) -> pl.DataFrame:
    """Compare the levels of every grouping, pair by pair.

    Parameters
    ----------
    laws
        Each group's law from its own units: levels `component`, `grouping`, `level`, `scale`.
    parameters
        `own_failures`, `difference_p` and `confidence`.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``comparison``: a row per pair of levels, `level_a` before `level_b` by name.

    Notes
    -----
    P-values are adjusted by Benjamini and Hochberg over all comparisons of the analysis, both scales together. Of a
    component's pairs that differ by `difference_p`, the one whose limits lie farthest from 1 names the grouping that
    tells its lives apart best (rule 33).
    """
    levels = _levels(laws)
    pairs = (
        levels.join(levels, on=WITHIN, suffix="_b")
        .filter(pl.col("level") < pl.col("level_b"))
        .sort(*WITHIN, "level", "level_b")
    )
    found = life_ratios(laws, pairs["row"].to_numpy(), pairs["row_b"].to_numpy(), parameters)
    adjusted = adjust_p_values(found["p_value"])["adjusted_p"]
    rows = pl.concat([pairs, found], how="horizontal").with_columns(
        adjusted_p=adjusted, comparisons=pl.lit(adjusted.count(), dtype=pl.Int64)
    )
    return _with_best_told_apart(rows, parameters).rename(
        {name: f"{name}_a" for name in ("level", "failures", "units")}
    )


def _levels(laws: LifeLaws) -> pl.DataFrame:
    """Return the levels that are compared, with their rows of `laws`."""
    numbered = laws.levels.with_columns(
        row=pl.Series(np.arange(laws.levels.height)),
        failures=pl.Series(laws.failures),
        units=pl.Series(laws.units),
    )
    told = numbered.filter(pl.col("grouping").is_in(COMPARED) & ~pl.col("level").is_in(UNTOLD))
    place = pl.struct(-pl.col("failures"), "level").rank("ordinal").over(WITHIN)
    return told.filter(place <= MOST_LEVELS)


def _with_best_told_apart(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add `told_apart_best`: the pair of each component and scale that differs most for certain."""
    off = pl.max_horizontal(pl.col("lower").log(), -pl.col("upper").log())
    # pairs that may be alike come last, whatever their limits
    sure = pl.when(pl.col("adjusted_p") < parameters.difference_p).then(off).otherwise(float("-inf"))
    place = pl.col("off").rank("ordinal", descending=True).over("component", "scale")
    return (
        rows.with_columns(off=sure)
        .with_columns(told_apart_best=(place == 1) & pl.col("off").is_finite())
        .drop("off", "row", "row_b")
    )
