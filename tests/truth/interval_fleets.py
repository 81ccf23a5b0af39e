"""Fleets of two series, and of two positions, that fail alike or not: a component per fleet.

The long run prints what DEVELOPERS.md tells: ``python -m tests.truth.interval_fleets --fleets 1000``.
"""

from __future__ import annotations

import argparse
import sys

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.recurrence.interval_comparison import interval_comparisons

YEAR = 365.25


def frames(rows):
    """Turn rows of vehicle, series, component, position, begin, finish, ages of failure into the stage's frames."""
    names = dict.fromkeys(["vehicle_id", "series", "component", "position"], pl.String)
    watch = pl.DataFrame([r[:6] for r in rows], {**names, "begin": pl.Int64, "finish": pl.Int64}, orient="row")
    failed = [(*r[:4], True, at) for r in rows for at in r[6]]
    return pl.DataFrame(failed, {**names, "position_stated": pl.Boolean, "at": pl.Int64}, orient="row"), watch


def ages_of_failure(rng, begin, finish, rate, ageing):
    """Return ages of a Poisson process whose rate grows with the car's age, in days."""
    scale = rate / YEAR
    most = scale * (finish / (30 * YEAR)) ** ageing
    ages = rng.uniform(begin, finish, rng.poisson(most * (finish - begin)))
    kept = rng.random(ages.size) < scale * (ages / (30 * YEAR)) ** ageing / most
    return sorted(int(age) + 1 for age in ages[kept])


def two_series(fleets, seed, cars=(40, 60), times=1.0, rate=0.12, ageing=2.0):
    """Series B fails `times` as often as A at the same age, joins ten years younger, and is watched for longer.

    Rates differ between cars (gamma, shape 1) and grow with the square of the car's age.
    """
    rng, rows = np.random.default_rng(seed), []
    for fleet in range(fleets):
        for second, number in enumerate(cars):
            for car in range(number):
                begin = rng.uniform(15, 45) * YEAR - 10 * YEAR * second
                finish = begin + rng.uniform(1, 6 + 4 * second) * YEAR
                of = rate * rng.gamma(1.0) * times**second
                ages = ages_of_failure(rng, begin, finish, of, ageing)
                name = f"{fleet}-{second}-{car}"
                rows.append((name, "AB"[second], f"f{fleet:04d}", "only", int(begin), int(finish), ages))
    return frames(rows)


def two_positions(fleets, seed, cars=60, times=1.0, rate=0.10):
    """The right position fails `times` as often as the left one; rates differ between cars."""
    rng, rows = np.random.default_rng(seed), []
    for fleet in range(fleets):
        for car in range(cars):
            begin = rng.uniform(15, 45) * YEAR
            finish, of = begin + rng.uniform(1, 9) * YEAR, rate * rng.gamma(1.0)
            for second, position in enumerate(("left", "right")):
                ages = ages_of_failure(rng, begin, finish, of * times**second, 1.0)
                rows.append((f"{fleet}-{car}", "A", f"f{fleet:04d}", position, int(begin), int(finish), ages))
    return frames(rows)


def compared(faults, watch, grouping):
    found = interval_comparisons(faults, watch, Parameters())
    return found.filter((pl.col("grouping") == grouping) & (pl.col("status") != "too few"))


def held(found, ratio):
    lower, upper = found["lower"].fill_null(0.0), found["upper"].fill_null(1e30)
    return float(((lower <= ratio) & (upper >= ratio)).mean())


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=1000)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for make, grouping in ((two_series, "series"), (two_positions, "position")):
        for times in (1.0, 2.0):
            found = compared(*make(asked.fleets, asked.seed, times=times), grouping)
            below = ", ".join(f"p<{p}: {(found['p_value'] < p).mean():.3f}" for p in (0.01, 0.05, 0.10, 0.50))
            middle = float(found["rate_ratio"].median())
            sys.stdout.write(
                f"{grouping} x{times}, {found.height}: {below}; ratio {middle:.2f}, {held(found, times):.3f}\n"
            )
            sys.stdout.flush()


if __name__ == "__main__":
    main()
