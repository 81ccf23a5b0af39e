"""Fleets with and without a hot spot, whose orders burst into lines and neighbouring places and whose cars come back.

The long run prints what DEVELOPERS.md tells: ``python -m tests.truth.hot_spots --fleets 400``.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import replace
from datetime import date, timedelta

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.records.feed import LOCATIONS
from analytics.recurrence.excess import excess
from analytics.recurrence.locations import fault_locations

START, YEARS = date(2012, 1, 1), 12
ZONES, AREAS, POINTS = 4, 2, 5
LEAVES = [f"z{z}a{a}p{p}" for z in range(ZONES) for a in range(AREAS) for p in range(POINTS)]
HOT = LEAVES[17]


def tree():
    rows = [(f"z{z}", None) for z in range(ZONES)]
    rows += [(f"z{z}a{a}", f"z{z}") for z in range(ZONES) for a in range(AREAS)]
    rows += [(leaf, leaf[:4]) for leaf in LEAVES]
    return pl.DataFrame(
        [{**dict.fromkeys(LOCATIONS.names), "location": name, "parent": parent} for name, parent in rows],
        schema=LOCATIONS.schema,
    )


TREE = tree()


def fleet(rng, orders, series=3, times=1.0, cars=160, coming_back=0.1, near=0.25):
    """Return faults and cars: about so many orders; on S1 the hot place is met `times` as often as the others.

    A share `near` of the orders names one or two neighbouring places more, orders make 2.2 lines, a share of the cars
    has a place of its own that every second order is about, and rates differ between cars (gamma, shape 1).
    """
    built = rng.integers(1965, 1980, cars)
    of = rng.integers(series, size=cars)
    stay = rng.uniform(2, YEARS, cars)
    rate = rng.gamma(1.0, size=cars) * stay
    count = rng.poisson(orders * rate / rate.sum())
    car = np.repeat(np.arange(cars), count)
    weight = np.ones((series, len(LEAVES)))
    weight[1 % series, LEAVES.index(HOT)] = times
    weight /= weight.sum(axis=1, keepdims=True)
    place = np.array([rng.choice(len(LEAVES), p=weight[of[c]]) for c in car], dtype=np.int64)
    chronic = rng.random(cars) < coming_back
    own = np.array([rng.choice(len(LEAVES), p=weight[s]) for s in of])
    back = chronic[car] & (rng.random(car.size) < 0.5)
    place[back] = own[car[back]]
    day = (rng.random(car.size) * stay[car] * 365.25).astype(np.int64)
    more = np.where(rng.random(car.size) < near, rng.integers(1, 3, car.size), 0)
    lines = 1 + rng.poisson(1.2, car.size)  # bursts: 2.2 lines of an order at one place
    rows = [
        (f"c{car[k]:03d}", f"S{of[car[k]]}", START + timedelta(days=int(day[k])), f"R{k}", LEAVES[p])
        for k in range(car.size)
        for near in range(more[k] + 1)
        for p in [(place[k] + near) % len(LEAVES)]
        for _ in range(lines[k] if near == 0 else 1)
    ]
    names = ["vehicle_id", "series", "visit_day", "record_id", "location"]
    kinds = dict.fromkeys(names, pl.String) | {"visit_day": pl.Date}
    faults = pl.DataFrame(rows, schema=kinds, orient="row").with_columns(reads_as=pl.lit("failure"))
    known = pl.DataFrame(
        [
            (f"c{c:03d}", f"S{of[c]}", date(int(built[c]), 7, 1), START, START + timedelta(days=int(stay[c] * 365.25)))
            for c in range(cars)
        ],
        schema={"vehicle_id": pl.String, "series": pl.String}
        | dict.fromkeys(["built_on", "first_seen", "last_seen"], pl.Date),
        orient="row",
    )
    return faults, known


def apart(faults, cars, lines):
    """Take every line, or every order, as if it were of a car of its own: what the scan must not do."""
    key = pl.int_range(pl.len()).cast(pl.String) if lines else pl.col("record_id")
    single = faults.with_columns(vehicle_id=key, of="vehicle_id")
    known = single.select("vehicle_id", "of").unique().join(cars, left_on="of", right_on="vehicle_id").drop("of")
    return single.drop("of"), known.sort("vehicle_id")


def standing_out(faults, cars, parameters):
    """Return the places that stand out in some series, on some basis, and those that the posterior alone would name."""
    table = fault_locations(faults, cars, TREE, parameters)
    scanned = table.filter(pl.col("scan_p") < parameters.hot_spot_p)
    posterior = table.filter((pl.col("probability_above_one") > 0.95) & (pl.col("observed") > 0))
    return set(scanned["location"]), set(posterior["location"])


def shares(fleets, seed, orders, draws, **more):
    """Return the shares of fleets: any place named by the scan, by the posterior alone; the hot one by the scan."""
    rng, parameters = np.random.default_rng(seed), replace(Parameters(), scan_draws=draws)
    found = [standing_out(*fleet(rng, orders, **more), parameters) for _ in range(fleets)]
    return [np.mean(values) for values in zip(*((bool(s), bool(p), HOT in s) for s, p in found), strict=True)]


def stated_ratio(fleets, seed, orders, draws, **more):
    """Return the excess that clean fleets say they would notice at the hot place in 8 of 10 fleets (median)."""
    rng, parameters = np.random.default_rng(seed), replace(Parameters(), scan_draws=draws)
    of_it = (pl.col("location") == HOT) & (pl.col("series") == "all")
    told = [fault_locations(*fleet(rng, orders, **more), TREE, parameters).filter(of_it) for _ in range(fleets)]
    return float(pl.concat(told)["detectable_ratio"].median())


def times_of(ratio, near=0.25):
    """Return how often the hot place must be met, beside each other place, to have so many times its expected faults.

    What is expected is the mean of all places, the hot one among them; orders about its neighbours name it too, as
    often as without a hot place: one or two on a share `near` of them.
    """
    named_beside = 1.5 * near
    met = ratio * (1 + named_beside) - named_beside
    return met * (len(LEAVES) - 1) / (len(LEAVES) - met)


def independent_orders(orders, seed, times=3.0, draws=20_000):
    """Return what a scan of single places finds where all orders are independent and it knows so: false alarms, found.

    Twice: places noticed beyond what chance exceeds in 0.05 of the draws, and those as far as that (ties) as well.
    """
    rng, even = np.random.default_rng(seed), np.full(len(LEAVES), 1 / len(LEAVES))
    weight = np.where(np.arange(len(LEAVES)) == LEAVES.index(HOT), times, 1.0)
    clean, hot = (rng.multinomial(orders, w, size=draws).astype(float) for w in (even, weight / weight.sum()))
    false = excess(clean, orders - clean, even).max(axis=1)
    found = excess(hot, orders - hot, even)[:, LEAVES.index(HOT)]
    least = np.quantile(false, 0.95)
    return [(float((false > at).mean()), float((found > at).mean())) for at in (least, least - 1e-9)]


def taken_apart(fleets, seed, orders, draws):
    """Return the shares of clean fleets with a false hot spot if lines, or orders, were taken as independent."""
    rng, parameters = np.random.default_rng(seed), replace(Parameters(), scan_draws=draws)
    drawn = [fleet(rng, orders) for _ in range(fleets)]
    return [
        np.mean([bool(standing_out(*apart(*each, lines), parameters)[0]) for each in drawn]) for lines in (True, False)
    ]


def say(*told):
    sys.stdout.write(" ".join(map(str, told)) + "\n")
    sys.stdout.flush()


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=400)
    parser.add_argument("--draws", type=int, default=999)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    run = (asked.fleets, asked.seed)
    say("fleets", asked.fleets, "draws", asked.draws, "seed", asked.seed)
    for orders in (150, 450, 1500):
        any_, posterior, _ = shares(*run, orders, asked.draws)
        say(f"clean, {orders} orders: scan {any_:.3f}, posterior alone {posterior:.3f}")
    lines, jobs = taken_apart(*run, 450, asked.draws)
    say(f"clean, 450 orders, taken apart: lines {lines:.3f}, orders {jobs:.3f}")
    for near in (0.0, 0.25):
        for orders in (45, 136, 364):
            hot = shares(*run, orders, asked.draws, series=1, times=3.0, coming_back=0.0, near=near)[2]
            say(f"one series, x3, {orders} orders, neighbours named on {near}: found {hot:.3f}")
    for orders in (45, 136, 364):
        beyond, with_ties = independent_orders(orders, asked.seed)
        say(f"independent orders, x3, {orders}: false alarms and found {beyond}, with ties {with_ties}")
    alone = {"series": 1, "coming_back": 0.0}
    for orders in (136, 364, 900):
        ratio = stated_ratio(asked.fleets // 4, asked.seed, orders, asked.draws, **alone)
        hot = shares(*run, orders, asked.draws, times=times_of(ratio), **alone)[2]
        say(f"one series, x{ratio:.2f} as stated to be noticed in 0.8 of the fleets, {orders} orders: found {hot:.3f}")
    for orders in (450, 900):
        say(f"of three series, x3, {orders} orders: {shares(*run, orders, asked.draws, times=3.0)[2]:.3f}")


if __name__ == "__main__":
    main()
