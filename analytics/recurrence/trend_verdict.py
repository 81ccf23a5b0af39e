"""Which trends are told: components first, then the positions and series of those that have one."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import adjust_p_values
from analytics.recurrence.trend import detectable_change

if TYPE_CHECKING:
    from analytics.parameters import Parameters

KEY = ["component", "position", "series"]
WHOLE = (pl.col("position") == "all") & (pl.col("series") == "all")

TOO_LITTLE, STEADY, WORSENING, IMPROVING = "too little to say", "steady", "worsening", "improving"
"""Whether failures come more or less often as time goes on; steady where no trend shows."""


def with_verdict(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Say of each row whether failures get rarer or more frequent, allowing for how many are looked at.

    Parameters
    ----------
    rows
        `component`, `position`, `series` and the columns of `trends`.
    parameters
        `difference_p`.

    Returns
    -------
    polars.DataFrame
        The rows with `trend_adjusted_p`, `trend` and, of whole components, `detectable_yearly_change`; without
        `yearly_spread`.

    Notes
    -----
    Rows of one component count the same failures over again, so they are no tests of their own. Whole components are
    adjusted among themselves (Benjamini and Hochberg); the positions and series of a component among
    themselves, and told only where the whole component has a trend: no adjusted p-value is below the
    component's. What could be noticed is reckoned for one component alone among all that are tested.

    References
    ----------
    .. [1] Yekutieli (2008), Journal of the American Statistical Association 103(481), 309-316: hierarchical false
       discovery rate controlling methodology; from memory.
    """
    whole, parts = rows.filter(WHOLE), rows.filter(~WHOLE)
    tests = whole["trend_p_value"].count()
    whole = whole.with_columns(
        trend_adjusted_p=adjust_p_values(whole["trend_p_value"])["adjusted_p"],
        detectable_yearly_change=detectable_change(
            whole["yearly_spread"], whole["trend_cars"], parameters.difference_p / max(tests, 1)
        ),
    )
    above = whole.select("component", above="trend_adjusted_p")
    told = [part.with_columns(adjust_p_values(part["trend_p_value"])["adjusted_p"]) for part in _by_component(parts)]
    parts = pl.concat([parts.clear().with_columns(adjusted_p=pl.lit(None, pl.Float64)), *told])
    parts = parts.join(above, on="component", how="left").with_columns(
        trend_adjusted_p=pl.when(pl.col("adjusted_p").is_not_null()).then(pl.max_horizontal("adjusted_p", "above"))
    )
    every = pl.concat([whole, parts.select(pl.exclude("adjusted_p", "above"))], how="diagonal").sort(KEY)
    return every.with_columns(trend=_verdict(parameters)).drop("yearly_spread")


def _by_component(parts: pl.DataFrame) -> list[pl.DataFrame]:
    return parts.sort(KEY).partition_by("component", maintain_order=True)


def _verdict(parameters: Parameters) -> pl.Expr:
    return (
        pl.when(pl.col("trend_adjusted_p").is_null())
        .then(pl.lit(TOO_LITTLE))
        .when(pl.col("trend_adjusted_p") >= parameters.difference_p)
        .then(pl.lit(STEADY))
        .when(pl.col("trend_z") > 0)
        .then(pl.lit(WORSENING))
        .otherwise(pl.lit(IMPROVING))
    )
