"""Fleets in which cars are modified because they failed, with and without an effect: a component per fleet.

The long run prints what DEVELOPERS.md tells: ``python -m tests.truth.before_after_fleets --fleets 400``.
"""

from __future__ import annotations

import argparse
import sys
from datetime import date, timedelta

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.recurrence.before_after import before_after

START, YEARS, KNOWN_FROM = date(2008, 1, 1), 12.0, 4.0
RATE, LIFE, WEAR = 0.3, 4.0, 3.0
FRAME = dict.fromkeys(["component", "vehicle_id", "position"], pl.String)


def day(years):
    return START + timedelta(days=round(float(years) * 365.25))


def every_second(rng, _):
    """Half of the failures are answered by the modification."""
    return rng.random() < 0.5


def after_two(_, failed):
    """A car that failed twice within two years is modified."""
    return len(failed) > 1 and failed[-1] - failed[-2] < 2


def every_one(*_):
    """Every failure is answered by it."""
    return True


def poisson(rng, effect, unlike):
    """Times to the next failure of a car whose repairs change nothing; rates differ between cars (gamma)."""
    rate = RATE * (rng.gamma(unlike) / unlike if unlike else 1.0)
    return lambda modified, _: rng.exponential(1 / (rate * (effect if modified else 1.0)))


def wearing(rng, effect, _):
    """Times to the next failure of parts that wear out and are renewed; `effect` on how often they fail."""

    def following(modified, first):
        longer = effect ** (-1 / WEAR) if modified else 1.0
        lasts = LIFE * longer * rng.weibull(WEAR)
        return lasts * rng.random() if first else lasts

    return following


def fleet(rng, name, law, rule, effect, unlike, cars):
    """Play one fleet; return rows of modifications, faults, windows and renewals."""
    rows = ([], [], [], [])
    renewing = law is wearing
    for number in range(cars):
        slot = (name, f"{name}-{number}", "only")
        begin = rng.uniform(0, YEARS - 2)
        finish = rng.uniform(begin + 1, YEARS)
        following, failed, modified = law(rng, effect, unlike), [], False
        at = begin + following(False, True)
        while at < finish:
            failed.append(at)
            rows[1].append((*slot, day(at), True))
            now = not modified and at > KNOWN_FROM and rule(rng, failed)
            if now:
                rows[0].append((*slot, "modified", "guard", day(at), day(at), day(at), None))
                modified = True
            if renewing:
                rows[3].append((*slot, day(at)))
            at += following(modified, False)
        rows[2].append((*slot, "S1", day(begin), day(finish)))
    return rows


def frames(fleets, seed, law, rule, effect=1.0, unlike=2.0, cars=120):
    rng = np.random.default_rng(seed)
    played = [fleet(rng, f"f{k:04d}", law, rule, effect, unlike, cars) for k in range(fleets)]
    schemas = [
        {**FRAME, "kind": pl.String, "modification": pl.String}
        | dict.fromkeys(["visit_day", "from_on", "to_on", "until_on"], pl.Date),
        {**FRAME, "visit_day": pl.Date, "used": pl.Boolean},
        {**FRAME, "series": pl.String, "start_on": pl.Date, "end_on": pl.Date},
        {**FRAME, "day": pl.Date},
    ]
    return [
        pl.DataFrame([row for each in played for row in each[table]], schema=schema, orient="row")
        for table, schema in enumerate(schemas)
    ]


def compared(*args, **more):
    """Return ``before_after`` of the fleets, with the ratios that others would tell."""
    found = before_after(*frames(*args, **more), Parameters())
    with_it = (pl.col("before_failures") + pl.col("led_to_it")) / pl.col("before_years")
    after = pl.col("after_failures") / pl.col("after_years")
    return found.with_columns(
        counting_it=after / with_it,
        leaving_it_out=after / (pl.col("before_failures") / pl.col("before_years")),
        never_modified=after / (pl.col("unmodified_failures") / pl.col("unmodified_years")),
    )


def held(found, effect):
    told = found.filter(pl.col("verdict") != "too few")
    return float(((told["lower"] <= effect) & (told["upper"] >= effect)).mean())


TOLD = ("ratio", "counting_it", "leaving_it_out", "never_modified")
CELLS = [
    (poisson, every_second, 0.0),
    (poisson, every_second, 2.0),
    (poisson, after_two, 0.0),
    (poisson, after_two, 2.0),
    (poisson, every_one, 2.0),
    (wearing, every_second, 0.0),
]


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=400)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    for effect in (1.0, 0.5):
        for law, rule, unlike in CELLS:
            found = compared(asked.fleets, asked.seed, law, rule, effect=effect, unlike=unlike)
            told = {
                name: float(found[name].median())
                for name in ("ratio", "counting_it", "leaving_it_out", "never_modified")
            }
            said = ", ".join(f"{name} {value:.2f}" for name, value in told.items())
            verdicts = ", ".join(
                f"{v} {n / found.height:.3f}" for v, n in sorted(found["verdict"].value_counts().rows())
            )
            cell = f"x{effect} {law.__name__} {rule.__name__} unlike {unlike}"
            sys.stdout.write(f"{cell}: {said}; held {held(found, effect):.3f}; {verdicts}\n")
            sys.stdout.flush()


if __name__ == "__main__":
    main()
