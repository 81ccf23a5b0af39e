"""Spells of units for benchmarks: Weibull lives in whole days, many entering late, in groups of one size."""

import numpy as np
import polars as pl

LATE_SHARE = 0.4


def unit_spells(units, groups, seed=2075):
    """Return group, entry, exit, event: `units` rows in `groups` groups, every group with its own law."""
    rng = np.random.default_rng(seed)
    group = np.arange(units) % groups
    shape = rng.uniform(0.8, 3.5, groups)[group]
    life = rng.uniform(1500, 6000, groups)[group]
    # at the latest at 0.8 of the life, so that no curve begins with a single unit at risk
    entry = np.floor(np.where(rng.random(units) < LATE_SHARE, rng.uniform(0, 0.8, units) * life, 0))
    fails = np.ceil(life * ((entry / life) ** shape + rng.exponential(size=units)) ** (1 / shape))
    leaves = entry + np.ceil(rng.uniform(0.2, 1.5, units) * life)
    return pl.DataFrame(
        {
            "group": group,
            "entry": entry.astype(np.int64),
            "exit": np.maximum(np.minimum(fails, leaves), entry + 1).astype(np.int64),
            "event": (fails <= leaves).astype(np.int64),
        }
    )


def split(spells):
    """Return entry, exit and event of every group as arrays, as other libraries take them."""
    parts = spells.partition_by("group", maintain_order=True)
    return [tuple(rows[name].to_numpy() for name in ("entry", "exit", "event")) for rows in parts]


def every_nth(groups, least):
    """Return at most `least` groups, evenly spread over all, as the sample a slow library is timed on."""
    return list(range(0, groups, max(groups // least, 1)))[:least]
