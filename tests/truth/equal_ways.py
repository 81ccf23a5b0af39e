"""Two ways of foretelling that are equally good, or of which one is worse: how often is a winner named?

Demand of a part is Poisson at a rate of its own (log-normal, spread 1), times a shock that all parts of a half-year
share (log-normal, spread 0.2). Both ways learn the rate from the same 60 periods before each past day, one from the
even periods and one from the odd ones, so that neither is better; windows of neighbouring days overlap by nine tenths,
as those of a real backtest do. `handicap` multiplies the other's rate.

The long run: ``python -m tests.truth.equal_ways --fleets 200``.
"""

from __future__ import annotations

import argparse
from datetime import date, timedelta

import numpy as np
import polars as pl
from scipy.stats import poisson

from analytics.stock.backtest import QUANTILES
from analytics.stock.forecast_scores import forecast_scores

CHANCES = np.array(QUANTILES)
HISTORY, BETWEEN, AHEAD = 60, 6, 2
"""Periods of 30 days: before each past day, between two of them, and foretold."""

USED, OTHER = "pooled rate", "SBA"


def fleet(draw, parts, days, handicap=1.0):
    """Return the checks of one fleet, a row per part, way, day and bound."""
    rate = np.exp(draw.normal(-0.2, 1.0, parts))
    periods = HISTORY + BETWEEN * days + AHEAD
    shock = np.exp(draw.normal(0, 0.2, periods // BETWEEN + 2))[np.arange(periods) // BETWEEN]
    needed = draw.poisson(rate[:, None] * shock)
    names = [f"P{k}" for k in range(parts)]
    frames = []
    for day in range(days):
        now = HISTORY + BETWEEN * day
        seen, happened = needed[:, now - HISTORY : now], needed[:, now : now + AHEAD].sum(1)
        for way, first, times in ((USED, 0, 1.0), (OTHER, 1, handicap)):
            mean = AHEAD * times * seen[:, first::2].mean(1)
            for chance, stated in zip(CHANCES, poisson.ppf(CHANCES[:, None], np.maximum(mean, 1e-9)), strict=True):
                over = happened - stated
                told = {"part_no": names, "stated": stated.astype(int), "happened": happened, "mean": mean}
                told |= {"score": np.where(over >= 0, over * chance, -over * (1 - chance))}
                same = {"method": way, "origin": date(2015, 1, 1) + timedelta(days=30 * BETWEEN * day)}
                same |= {"horizon_days": 30.0 * AHEAD, "quantile": chance}
                frames.append(pl.DataFrame(told).with_columns(**{name: pl.lit(value) for name, value in same.items()}))
    return pl.concat(frames)


def named(fleets, parts, days, handicap=1.0, seed=1):
    """Return the shares of fleets that name a winner of all parts, hold 1 in its limits, and name one of any part."""
    of_all = holds = of_one = 0
    for k in range(fleets):
        scores = forecast_scores(fleet(np.random.default_rng([seed, k, parts, days]), parts, days, handicap))
        other = scores.filter(pl.col("method") == OTHER)
        whole = other.row(by_predicate=pl.col("part_no") == "all", named=True)
        sure = pl.col("verdict").is_in(["better", "worse"])
        of_all += whole["verdict"] in ("better", "worse")
        holds += whole["lower"] <= 1 <= whole["upper"]
        of_one += other.filter(sure & (pl.col("part_no") != "all")).height > 0
    return of_all / fleets, holds / fleets, of_one / fleets


if __name__ == "__main__":
    parser = argparse.ArgumentParser()
    parser.add_argument("--fleets", type=int, default=200)
    parser.add_argument("--seed", type=int, default=1)
    chosen = parser.parse_args()
    for handicap, parts, days in ((1.0, 30, 8), (1.0, 30, 16), (1.0, 8, 8), (1.5, 30, 8), (1.5, 30, 16), (2.0, 30, 8)):
        shares = named(chosen.fleets, parts, days, handicap, chosen.seed)
        told = ", ".join(f"{share:.3f}" for share in shares)
        print(f"rate times {handicap}, {parts} parts, {days} days: all named, 1 held, a part named: {told}", flush=True)  # noqa: T201
