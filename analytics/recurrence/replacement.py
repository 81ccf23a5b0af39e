"""When a part that wears out is best replaced before it fails, by what a failure costs more; never a safety part."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators import replacement_age

if TYPE_CHECKING:
    from analytics.estimators import LifeLaws
    from analytics.parameters import Parameters

COST_RATIOS = (2.0, 3.0, 5.0, 10.0, 20.0)
"""Cost of a failure over the cost of a planned replacement."""

DRAWS = 100
GROUP = ["component", "grouping", "level", "scale"]
WEARS, UNSURE, TOO_LITTLE = "ok", "may not wear out", "too few"


def planned_replacement(laws: LifeLaws, models: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the age at which planned replacement is cheapest, for several ratios of cost.

    Parameters
    ----------
    laws
        Each group's law from its own units: levels `component`, `grouping`, `level`, `scale`.
    models
        Rows of ``life_model`` with `safety_critical` and `default_grouping`.
    parameters
        `own_failures` and `confidence`.

    Returns
    -------
    DataFrame
        Snapshot table ``planned_replacement``: a row per default group of a component that is not safety-critical,
        scale and ratio.

    Notes
    -----
    The age is that of Barlow and Hunter's policy for each of `DRAWS` laws drawn from the group's posterior: median and
    limits over the draws. Where more of them than a limit leaves out say that it never pays, the part may not wear out
    and no age is told. Rule 39: safety-critical components have no rows.
    """
    wanted = models.filter(pl.col("default_grouping") & ~pl.col("safety_critical")).select(*GROUP, "failures")
    numbered = laws.levels.with_columns(row=pl.Series(np.arange(laws.levels.height)))
    groups = wanted.join(numbered, on=GROUP, how="inner").sort(GROUP)
    if groups.is_empty():
        return pl.DataFrame()
    enough = pl.col("failures") >= parameters.own_failures
    asked = pl.DataFrame({"cost_ratio": COST_RATIOS})
    told = _told(laws.only(groups.filter(enough)["row"].to_numpy()), asked, parameters)
    rows = groups.drop("row").join(asked, how="cross").join(told, on=[*GROUP, "cost_ratio"], how="left")
    return rows.with_columns(pl.col("status").fill_null(TOO_LITTLE)).sort(*GROUP, "cost_ratio")


def _told(laws: LifeLaws, asked: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    drawn = laws.draws(DRAWS, "planned replacement").join(asked, how="cross")
    found = replacement_age(*(drawn[name].to_numpy() for name in ("shape", "life", "cost_ratio")))
    tail = (1 - parameters.confidence) / 2
    never = (pl.col("status") == "never").mean()
    sure = pl.col("never") <= tail
    saving = 1 - pl.col("cost_rate") / pl.col("cost_rate_unplanned")
    return (
        pl.concat([drawn.select(*GROUP, "cost_ratio"), found], how="horizontal")
        .group_by(*GROUP, "cost_ratio", maintain_order=True)
        .agg(
            never=never,
            age=pl.col("age").median(),
            age_lower=pl.col("age").quantile(tail, "linear"),
            age_upper=pl.col("age").quantile(1 - tail, "linear"),
            saving=saving.median(),
            saving_lower=saving.quantile(tail, "linear"),
            saving_upper=saving.quantile(1 - tail, "linear"),
        )
        .with_columns(pl.when(sure).then(pl.col("^(age|saving).*$")).name.keep())
        .with_columns(status=pl.when(sure).then(pl.lit(WEARS)).otherwise(pl.lit(UNSURE)))
        .drop("never")
    )
