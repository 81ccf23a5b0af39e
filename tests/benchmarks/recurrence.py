"""Chance drawn for fault locations and for two sides of a car, against general libraries.

Compared:
- `analytics.recurrence.moved_places.greatest_by_chance`, the greatest excess of all places in each draw in which every
  car's faults are moved on, with a Polars query a draw (move, open to the places above, distinct visits, count). The
  query is timed on a few draws, told for all.
- `analytics.recurrence.two_groups.Sides.swapped`, sides of cars swapped at random, with `scipy.stats.permutation_test`
  on the same statistic.
Before timing, the greatest excess of the few draws is checked equal to the last digits, and the p-values of both
permutations to lie within five standard errors.

Measured on a virtual machine with 2 cores, busy with other work: 20,000 faults at 1,640 places, 999 draws, 5.7 s, 0.36
of Polars; 9,999 swaps of 2,000 cars 0.58 s, 0.14 of SciPy.

Run: python tests/benchmarks/recurrence.py [--size FAULTS] [--repeat N]
"""

from dataclasses import replace

import numpy as np
import polars as pl
from measured import OURS, asked, median_seconds, show, versions
from numpy.testing import assert_allclose
from scipy import stats

from analytics.estimators.seeds import generator
from analytics.parameters import Parameters
from analytics.recurrence import moved_places
from analytics.recurrence.excess import excess
from analytics.recurrence.moved_places import greatest_by_chance, ring_of
from analytics.recurrence.places import place_tree
from analytics.recurrence.two_groups import Sides

SIZE = 60_000
AREAS, PLACES_EACH = 40, 40
CARS = 2000
DRAWS = 999
FEW_DRAWS = 5
SWAPS = 9999


def recorded(size, seed=2075):
    """Return a tree of places in areas, and faults of cars in three series, a tenth of them naming the area only."""
    rng = np.random.default_rng(seed)
    areas = [f"area {n}" for n in range(AREAS)]
    places = [(f"place {n}-{k}", area) for n, area in enumerate(areas) for k in range(PLACES_EACH)]
    tree = pl.DataFrame(
        {"location": [*areas, *(name for name, _ in places)], "parent": [None] * AREAS + [area for _, area in places]}
    )
    car = rng.integers(CARS, size=size)
    named = rng.integers(len(places), size=size)
    seen = pl.DataFrame(
        {
            "vehicle_id": [f"car {n}" for n in car],
            "series": [f"S{n % 3}" for n in car],
            "visit_day": rng.integers(5000, size=size),
            "location": [places[n][int(n % 10 == 0)] for n in named],
        }
    )
    return place_tree(tree, pl.Series([], dtype=pl.String)), seen.unique()


def by_polars(hits, ring, shifts):
    """Return the greatest excess of each draw, a query a draw."""
    rows = pl.DataFrame({name: getattr(hits, name) for name in ("car", "visit", "series", "lowest", "levels")})
    lowest = ring.above.shape[1]
    above = pl.concat(
        pl.DataFrame({"lowest": np.arange(lowest), "level": level, "place": places})
        for level, places in enumerate(ring.above)
    ).filter(pl.col("place") >= 0)
    cells = pl.DataFrame({"place": np.arange(len(ring.names)), "level": ring.level, "share": ring.share})
    return [_greatest_of(rows, shift, lowest, above, cells) for shift in shifts]


def _greatest_of(rows, shift, lowest, above, cells):
    moved = rows.with_columns((pl.col("lowest") + pl.Series(shift)[rows["car"]]) % lowest)
    seen = moved.join(above, on="lowest").filter(pl.col("levels") > pl.col("level"))
    counted = seen.group_by("series", "place").agg(here=pl.col("visit").n_unique())
    every = counted.group_by("place").agg(pl.col("here").sum()).with_columns(series=pl.lit(-1, dtype=pl.Int64))
    both = pl.concat([counted, every.select(counted.columns)]).join(cells, on="place")
    both = both.with_columns(rest=pl.col("here").sum().over("series", "level") - pl.col("here"))
    here, rest, share = (both[name].to_numpy().astype(float) for name in ("here", "rest", "share"))
    return excess(here, rest, share).max()


def places(given):
    """Compare the scan of places."""
    tree, seen = recorded(given.size)
    ring, parameters = ring_of(tree), replace(Parameters(), scan_draws=DRAWS)
    few = replace(parameters, scan_draws=FEW_DRAWS)
    # the same draws as `greatest_by_chance` makes of them
    rng = generator("fault_location", "average place", FEW_DRAWS)
    hits = moved_places._hits(seen, ring, rng)
    shifts = rng.integers(ring.above.shape[1], size=(FEW_DRAWS, int(hits.car.max()) + 1))
    assert_allclose(greatest_by_chance(seen, ring, few), by_polars(hits, ring, shifts), rtol=1e-9)
    print(f"checked equal: the greatest excess of {len(ring.names):,} places in {FEW_DRAWS} draws")
    sampled = f"Polars, {FEW_DRAWS} of {DRAWS} draws, scaled"
    runs = {
        OURS: lambda: greatest_by_chance(seen, ring, parameters),
        sampled: lambda: by_polars(hits, ring, shifts),
    }
    seconds = median_seconds(runs, given.repeat)
    seconds[sampled] *= DRAWS / FEW_DRAWS
    show(f"{seen.height:,} faults at {len(ring.names):,} places, {DRAWS} draws, median of {given.repeat}", seconds)


def swapped_by_scipy(sides):
    """Return the p-value of sides swapped within cars."""

    def apart(second, first, axis):
        value = (second - first) / 2
        total, cars = value.sum(axis=axis), value.shape[axis]
        spread = ((value**2).sum(axis=axis) - total**2 / cars) * cars / (cars - 1)
        return np.abs(total / np.sqrt(np.maximum(spread, sum(sides.counts) / 4)))

    found = stats.permutation_test(
        (sides.second, sides.first),
        apart,
        permutation_type="samples",
        vectorized=True,
        n_resamples=SWAPS,
        batch=500,
        alternative="greater",
        rng=np.random.default_rng(1),
    )
    return found.pvalue


def swapped_by_ours(sides):
    """Return the same p-value by our draws."""
    draws = np.abs(sides.swapped(SWAPS, np.random.default_rng(2)))
    return (np.count_nonzero(draws >= abs(sides.apart(np.ones(1))[0]) - 1e-9) + 1) / (SWAPS + 1)


def positions(given):
    """Compare swapping the sides of cars."""
    rng = np.random.default_rng(7)
    sides = Sides(*(rng.poisson(mean, CARS).astype(float) for mean in (0.50, 0.54)))
    ours, theirs = swapped_by_ours(sides), swapped_by_scipy(sides)
    assert abs(ours - theirs) <= 5 * np.sqrt(2 * theirs * (1 - theirs) / SWAPS), (ours, theirs)
    print(f"checked: p-value {ours:.4f} here, {theirs:.4f} there, within what {SWAPS:,} draws allow")
    runs = {OURS: lambda: swapped_by_ours(sides), "scipy permutation_test": lambda: swapped_by_scipy(sides)}
    show(f"two sides of {CARS:,} cars, {SWAPS:,} draws, median of {given.repeat}", median_seconds(runs, given.repeat))


def main():
    given = asked(__doc__, SIZE)
    places(given)
    positions(given)
    print(versions("numpy", "polars", "scipy"))


if __name__ == "__main__":
    main()
