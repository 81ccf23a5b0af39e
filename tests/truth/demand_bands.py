"""Within what the forecast of demand must lie in worlds whose truth is known.

Bands for 20 fleets x 8 origins x 3 horizons a world: the 99 % range over resampled sets of 20 fleets of a run made
before this program was written, by a program of its own, widened by 0.01-0.03 for another simulator. Bounds are whole
numbers, so that they hold more often than stated; the oracle's own hold 0.953, 0.942 and 0.923 of 0.90 in the classes
of demand below 0.5, to 2 and above.
"""

import polars as pl

BANDS = {
    "steady": {"held_80": (0.82, 0.90), "held_90": (0.905, 0.955), "held_95": (0.945, 0.985),
               "mean_ratio": (0.97, 1.09), "over_oracle": (0, 1.16), "over_pooled": (0, 1.03)},
    "growing": {"held_80": (0.81, 0.89), "held_90": (0.89, 0.945), "held_95": (0.94, 0.98), "mean_ratio": (0.95, 1.05),
                "over_oracle": (0, 1.18), "over_pooled": (0, 1.03)},
    "shrinking": {"held_80": (0.83, 0.90), "held_90": (0.91, 0.965), "held_95": (0.945, 0.99),
                  "mean_ratio": (0.99, 1.14), "over_oracle": (0, 1.23), "over_pooled": (0, 1.03)},
    "wave": {"held_80": (0.81, 0.89), "held_90": (0.90, 0.955), "held_95": (0.945, 0.985), "mean_ratio": (0.96, 1.06),
             "over_oracle": (0, 1.19), "over_pooled": (0, 0.99)},
    "wave, its part": {"held_80": (0.73, 0.87), "held_90": (0.84, 0.95), "held_95": (0.89, 0.98),
                       "mean_ratio": (0.92, 1.05), "over_oracle": (0, 1.26), "over_pooled": (0, 0.92)},
    "campaign late, its part": {"mean_ratio": (0.90, 1.08)},
    "law changes, its parts": {"held_90": (0.85, 1.0), "over_pooled": (0, 1.05)},
    "fleets of 6 to 20 cars": {"held_90": (0.93, 0.98), "mean_ratio": (1.00, 1.20), "over_pooled": (0, 1.02)},
}  # fmt: skip

ONE_FLEET = (0.86, 0.98)
"""Share of a single fleet's bounds of 90 in 100 that hold, over 8 origins, 3 horizons and 8 components."""

BY_DEMAND = {"below 0.5": (0.94, 0.99), "0.5 to 2": (0.92, 0.965), "above 2": (0.889, 0.945)}
"""Share of bounds of 90 in 100 that hold, by expected demand."""


def missed(world, told, method="installed base"):
    """Return in words which bands of a world are not kept.

    Parameters
    ----------
    world
        A row of `BANDS`.
    told
        As from `demand_run.told`.
    method
        Whose row is held against the bands.
    """
    row = told.filter(pl.col("method") == method).row(0, named=True)
    return [
        f"{world}: {name} {row[name]:.3f}, not {low} to {high}"
        for name, (low, high) in BANDS[world].items()
        if not low <= row[name] <= high
    ]


def odd_fleets(checks, method="installed base"):
    """Return world, fleet and the share of its bounds of 90 in 100 that held, where that is outside of `ONE_FLEET`."""
    bounds = checks.filter((pl.col("method") == method) & (pl.col("quantile") == 0.9))
    held = bounds.group_by("world", "fleet").agg(held_90=(pl.col("happened") <= pl.col("stated")).mean())
    return held.filter(~pl.col("held_90").is_between(*ONE_FLEET)).sort("world", "fleet")


def by_demand(checks, method="installed base"):
    """Return how often the bound of 90 in 100 held by class of expected demand, of all worlds together."""
    bounds = checks.filter((pl.col("method") == method) & (pl.col("quantile") == 0.9))
    mean = pl.col("mean")
    name = pl.when(mean < 0.5).then(pl.lit("below 0.5")).when(mean <= 2).then(pl.lit("0.5 to 2"))
    found = bounds.group_by(demand=name.otherwise(pl.lit("above 2"))).agg(
        forecasts=pl.len(), held_90=(pl.col("happened") <= pl.col("stated")).mean()
    )
    low, high = (pl.col("demand").replace_strict({k: v[end] for k, v in BY_DEMAND.items()}) for end in (0, 1))
    return found.with_columns(kept=pl.col("held_90").is_between(low, high)).sort("demand")
