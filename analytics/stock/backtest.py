"""Forecasts held against what happened: rolling origins, several methods, bounds and losses."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.demand import Compound, quantile
from analytics.stock.group_demand import INSTALLED_BASE, POOLED_RATE
from analytics.stock.history import MOST_AT_ONCE, OURS_TO_PLAN
from analytics.stock.intermittent import croston, croston_sba, moving_average, poisson_mass, tsb
from analytics.stock.laws import DRAWS

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from numpy.typing import NDArray

    from analytics.stock.groups import Group

    Floats = NDArray[np.float64]

QUANTILES = (0.5, 0.8, 0.9, 0.95)
"""Bounds that are held against what happened; their pinball losses are averaged."""

PERIOD_DAYS = 30
PERIODS = 60
AVERAGED = 24
"""Comparators see so many periods of so many days; the moving average the last of them."""


@dataclass(frozen=True, slots=True)
class Foretold:
    """One forecast: what a method said on a day about the demand of a group within a horizon.

    Attributes
    ----------
    part_no, method
        Group and method.
    origin
        Day of the forecast: nothing later was known.
    horizon_days
        Days ahead.
    mass
        Chance of each demand 0, 1, 2...
    mean
        Expected demand, parts.
    """

    part_no: str
    method: str
    origin: date
    horizon_days: float
    mass: Floats
    mean: float


def foretold(group: Group, origin: date, horizons: Sequence[float]) -> list[Foretold]:
    """Return what every method that the records allow says of a group on a day.

    Parameters
    ----------
    group
        As `known_groups` returns it for that day.
    origin
        The day.
    horizons
        Days ahead.

    Notes
    -----
    Installed base and pooled rate as in `forecast_stock`, over certain horizons. Moving average, Croston, SBA and
    TSB see 60 periods of 30 days, campaigns taken out, and are given Poisson bounds, which are too narrow.
    """
    said = []
    base = group.basis
    if not isinstance(base, str):
        days = np.stack([np.full(DRAWS, float(h)) for h in horizons])
        for h, repairs in zip(horizons, base.repairs(days), strict=True):
            one = INSTALLED_BASE, h, base.predictive.mass(repairs), base.predictive.mean(repairs)
            said.append(one)
    if group.counted.history.car_years > 0 or group.counted.history.sales_only:
        compound = Compound(group.counted.history)
        said += [(POOLED_RATE, h, compound.mass(np.array([h])), compound.mean(np.array([h]))) for h in horizons]
    series = demand_series(group, origin)
    rates = {
        "moving average": moving_average(series, AVERAGED),
        "Croston": croston(series),
        "SBA": croston_sba(series),
        "TSB": tsb(series),
    }
    for method, rate in rates.items():
        for h in horizons:
            mean = rate * h / PERIOD_DAYS
            said.append((method, h, poisson_mass(mean), mean))
    return [Foretold(group.live_no, method, origin, h, mass, mean) for method, h, mass, mean in said]


def demand_series(group: Group, origin: date) -> Floats:
    """Return the demand of each period up to a day, the newest last; planned work of campaign years is left out."""
    in_campaign = pl.any_horizontal(
        pl.lit(value=False),
        *(
            pl.col("closed_on").is_between(until - timedelta(days=round(DAYS_PER_YEAR)), until, closed="right")
            for until in group.counted.campaign_years
        ),
    )
    kept = group.uses.filter(~(in_campaign & pl.col("reads_as").is_in(OURS_TO_PLAN)))
    parts = [kept.select(day="closed_on", parts=pl.col("quantity").cast(pl.Float64))]
    parts.append(group.sales.select(day="sold_on", parts=pl.col("quantity").cast(pl.Float64).clip(0)))
    rows = pl.concat(parts).with_columns(back=(pl.lit(origin) - pl.col("day")).dt.total_days() // PERIOD_DAYS)
    seen = rows.filter(pl.col("back").is_between(0, PERIODS - 1))
    counted = np.bincount(seen["back"].to_numpy(), weights=seen["parts"].to_numpy(), minlength=PERIODS)
    return np.asarray(counted[::-1], dtype=np.float64)


def demand_between(groups: Sequence[Group], origin: date, horizons: dict[str, float]) -> pl.DataFrame:
    """Return the demand of each group within its horizon after a day, campaigns and all.

    Parameters
    ----------
    groups
        As known at least so many days later.
    origin
        The day.
    horizons
        Days ahead, by live number.

    Returns
    -------
    polars.DataFrame
        `part_no`, `origin`, `horizon_days`, `happened` (parts).
    """
    rows = []
    for group in groups:
        horizon = horizons[group.live_no]
        after, until = origin, origin + timedelta(days=round(horizon))
        taken = group.uses.filter(pl.col("closed_on").is_between(after, until, closed="right"))["quantity"].sum()
        sold = group.sales.filter(pl.col("sold_on").is_between(after, until, closed="right"))["quantity"]
        rows.append((group.live_no, origin, horizon, int(taken) + math.ceil(sold.clip(0, MOST_AT_ONCE).sum())))
    schema = {"part_no": pl.String, "origin": pl.Date, "horizon_days": pl.Float64, "happened": pl.Int64}
    return pl.DataFrame(rows, schema=schema, orient="row")


def forecast_checks(
    forecasts: Iterable[Foretold], happened: pl.DataFrame, quantiles: Sequence[float] = QUANTILES
) -> pl.DataFrame:
    """Hold forecasts against what happened.

    Parameters
    ----------
    forecasts
        What was said.
    happened
        `part_no`, `origin`, `horizon_days`, `happened` (parts); a forecast without a row there is not checked.
    quantiles
        Chances of the bounds, each between 0 and 1.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``forecast_check``: `part_no`, `method`, `origin`, `horizon_days`, `quantile`, `stated` (the
        bound), `happened`, `score` (pinball loss of the bound, parts), `mean`; sorted by these.

    Raises
    ------
    ValueError
        If a quantile is not between 0 and 1.

    Notes
    -----
    The pinball loss of bound k at chance p when y happened is p (y - k) if y >= k, else (1 - p) (k - y): it is least,
    on average, for the true quantile. The mean absolute error alone would be least for "nothing will be needed".

    References
    ----------
    .. [1] Koenker and Bassett (1978), Econometrica 46(1), 33-50; from memory.
    """
    if not all(0 < p < 1 for p in quantiles):
        raise ValueError(f"every quantile must lie between 0 and 1, got {tuple(quantiles)}")
    rows = [
        (f.part_no, f.method, f.origin, float(f.horizon_days), p, quantile(f.mass, p), f.mean)
        for f in forecasts
        for p in quantiles
    ]
    schema = {
        "part_no": pl.String,
        "method": pl.String,
        "origin": pl.Date,
        "horizon_days": pl.Float64,
        "quantile": pl.Float64,
        "stated": pl.Int64,
        "mean": pl.Float64,
    }
    keys = ["part_no", "origin", "horizon_days"]
    said = pl.DataFrame(rows, schema=schema, orient="row")
    known = happened.select(*keys, pl.col("happened").cast(pl.Int64)).cast({"horizon_days": pl.Float64})
    over = pl.col("happened") - pl.col("stated")
    order = ["part_no", "method", "origin", "horizon_days", "quantile"]
    return (
        said.join(known, on=keys, how="inner")
        .with_columns(score=pl.max_horizontal(over * pl.col("quantile"), over * (pl.col("quantile") - 1)).abs())
        .select(*order, "stated", "happened", "score", "mean")
        .sort(order)
    )


def judged(checks: pl.DataFrame, by: Sequence[str] = ("method",)) -> pl.DataFrame:
    """Sum checks up: how often each bound held, mean forecast over mean demand, and the mean loss.

    Parameters
    ----------
    checks
        As from `forecast_checks`.
    by
        Columns to sum up by.

    Returns
    -------
    polars.DataFrame
        The columns of `by`, `forecasts`, `held_50` ... (share of forecasts whose bound held), `mean_ratio` (expected
        over happened; null where nothing happened), `loss` (mean pinball loss, parts).
    """
    chances = sorted(checks["quantile"].unique())
    held = pl.col("happened") <= pl.col("stated")
    first = pl.col("quantile") == (chances[0] if chances else 0.0)
    total = pl.col("happened").filter(first).sum()
    return (
        checks.group_by(by)
        .agg(
            first.sum().alias("forecasts"),
            *(held.filter(pl.col("quantile") == p).mean().alias(f"held_{100 * p:g}") for p in chances),
            mean_ratio=pl.when(total > 0).then(pl.col("mean").filter(first).sum() / total),
            loss=pl.col("score").mean(),
        )
        .sort(by)
    )


RATE_AHEAD = 1.10
"""The pooled rate is said to be ahead where the installed base loses so many times as much."""

LEAST_ORIGINS = 8


def rate_ahead(checks: pl.DataFrame) -> pl.DataFrame:
    """Return the groups whose pooled rate was ahead of their installed base by more than a tenth over many origins.

    Parameters
    ----------
    checks
        As from `forecast_checks`.

    Returns
    -------
    polars.DataFrame
        `part_no`, `origins`, `times` (loss of the installed base over the rate's), worst first. The tool does not
        switch by itself: chance alone puts some groups here (methods B6.2).
    """
    both = checks.filter(pl.col("method").is_in([INSTALLED_BASE, POOLED_RATE]))
    loss = both.group_by("part_no", "method").agg(pl.col("score").mean(), origins=pl.col("origin").n_unique())
    sides = [loss.filter(pl.col("method") == name).drop("method") for name in (INSTALLED_BASE, POOLED_RATE)]
    joined = sides[0].join(sides[1], on="part_no", suffix="_rate").filter(pl.col("score_rate") > 0)
    return (
        joined.select("part_no", "origins", times=pl.col("score") / pl.col("score_rate"))
        .filter((pl.col("origins") >= LEAST_ORIGINS) & (pl.col("times") > RATE_AHEAD))
        .sort("times", "part_no", descending=[True, False])
    )
