"""Demand of many groups in a large fleet: units in cells of like age, against one unit at a time.

Every group sits once in every vehicle, a third of its units of unknown age. Timed are, for all groups, the failures
expected in the year after four past origins; the presence of the cars fitted to them, once; and for each group whole
distributions over five horizons and fifteen lead times, the pooled rate's beside, and the cars behind them. Drawing the
units is not timed. Groups are foretold side by side, in a thread for each core as `forecast_stock` does. The loop asks
the same chances of the same laws, a unit at a time; it is timed on a few units, in one thread, and told for all.
Before, the failures expected in cells and one by one are checked equal.

Run: python tests/benchmarks/demand.py [--size VEHICLES] [--groups N] [--repeat N]
"""

import time
from dataclasses import replace

import numpy as np
import polars as pl
from measured import OURS, asked, show, versions
from numpy.testing import assert_allclose

from analytics.estimators import fails_within
from analytics.estimators.side_by_side import side_by_side, threads
from analytics.parameters import Parameters
from analytics.stock.demand import History
from analytics.stock.group_demand import by_installed_base
from analytics.stock.in_care import InCare, failures_in_a_year
from analytics.stock.installed_base import BaseDemand
from analytics.stock.laws import DRAWS, HEAVIEST, StockLaws
from analytics.stock.like_units import KNOWN, UNKNOWN, Units
from analytics.stock.presence import presence, seen_until
from analytics.stock.shelf import Shelf
from analytics.stock.streams import Streams

YEAR = 365.25
TODAY = 20_000.0
ORIGINS = 4
AT_ONCE = 50
"""Groups whose units are drawn at a time."""

NAIVE_UNITS = 20
"""Units of one group that the loop is timed on."""


def laws_of(rng, groups):
    """Laws as a fit of some twenty failures leaves them."""
    shape, life = rng.uniform(0.9, 3.5, (groups, 1)), rng.uniform(1500, 6000, (groups, 1))

    def around(count):
        return shape * np.exp(0.2 * rng.standard_normal((groups, count))), life * np.exp(
            0.2 * rng.standard_normal((groups, count))
        )

    key = pl.DataFrame({"component": [f"part {n}" for n in range(groups)], "level": "all", "scale": "age"})
    key = key.with_columns(law=pl.int_range(groups, dtype=pl.Int64), failures=pl.lit(20, dtype=pl.Int64))
    return StockLaws(key, (), *around(DRAWS), *around(HEAVIEST), np.full((groups, HEAVIEST), 1 / HEAVIEST))


def units_of(vehicles, groups):
    """One unit of each group in every vehicle, the same for a group whenever it is asked."""
    drawn = [_units_of(np.random.default_rng([2075, group]), vehicles, group) for group in groups]
    return Units(*(np.concatenate([getattr(one, name) for one in drawn]) for name in Units.__slots__))


def _units_of(rng, vehicles, group):
    kind = np.where(rng.random(vehicles) < 1 / 3, UNKNOWN, KNOWN)
    joined = np.where(kind == KNOWN, 0.0, rng.uniform(4000, 13_000, vehicles))
    one = np.ones(vehicles)
    return Units(np.arange(vehicles), np.full(vehicles, group), kind, rng.uniform(0, 5000, vehicles), joined, one)


def fleet(rng, vehicles):
    """Visits of every vehicle over some years, some of them long ago."""
    count = rng.integers(1, 15, vehicles)
    car = np.repeat(np.arange(vehicles), count)
    last = np.repeat(TODAY - rng.exponential(500, vehicles), count)
    day = last - rng.uniform(0, 3000, car.size)
    order = np.lexsort((day, car))
    return seen_until(car[order], day[order], np.full(vehicles, np.inf), TODAY)


class Watch:
    """Adds up seconds by the clock and of the processor, of what runs inside of it."""

    def __init__(self):
        self.spent = np.zeros(2)

    def __enter__(self):
        self._began = time.perf_counter(), time.process_time()

    def __exit__(self, *_):
        self.spent += np.subtract((time.perf_counter(), time.process_time()), self._began)


def foretold(rng, vehicles, groups):
    """Return the seconds by the clock and of the processor that past origins and forecasts took, and the laws."""
    laws, seen, parameters = laws_of(rng, groups), fleet(rng, vehicles), Parameters()
    blocks = [range(start, min(start + AT_ONCE, groups)) for start in range(0, groups, AT_ONCE)]
    past, ahead, expected = Watch(), Watch(), np.zeros(vehicles)
    for block in blocks:
        units = units_of(vehicles, block)
        with past:
            for _ in range(ORIGINS):
                of_unit = failures_in_a_year(laws, units)
            expected += np.bincount(units.car, weights=of_unit, minlength=vehicles)
    with past:
        missed, failures = np.tile(seen.missed, ORIGINS), np.tile(expected, ORIGINS)
        here = presence(missed, 0.7 * failures, failures, parameters)
    told = Streams(
        {}, 40, 3.0 * vehicles, vehicles, vehicles // 3, 3.0, 20, vehicles // 2, 40, np.ones(60, np.int64), ()
    )
    shelf = Shelf(5.0, 0.0, (), 45.0, 120.0, 1, 1, None, None)
    history = History(100, 5.0 * vehicles, vehicles, np.ones(100, np.int64))
    cars = pl.DataFrame({"vehicle_id": [f"car {n}" for n in range(vehicles)]})
    q, every = here.of(seen), np.arange(vehicles)
    for block in blocks:
        name = [f"part {group}" for group in block]
        care = InCare(TODAY, 0.0, cars, seen, q, here, laws, pl.DataFrame(), units_of(vehicles, block),
                      dict.fromkeys(name, (20.0, 22.0)), (0.0, 1.0), frozenset())  # fmt: skip

        def of_group(place, name=name, care=care):
            streams = replace(told, answered={name[place]: (20, 30, 1.0)})
            demand = BaseDemand(name[place], care, every + place * vehicles, every, streams, (9, 3.0))
            return by_installed_base(demand, history, shelf, parameters).mean

        with ahead:
            side_by_side(of_group, range(len(block)))
    return past.spent, ahead.spent, laws


def unit_at_a_time(vehicles, laws, count):
    """Seconds that the chances of one unit take, of the same laws, horizons and origins."""
    units = units_of(vehicles, [0])
    began = time.process_time()
    for row in range(count):
        joined = None if units.kind[row] == KNOWN else units.joined[row]
        for _ in range(ORIGINS):
            fails_within(laws.heavy_shape[0], laws.heavy_life[0], units.age[row], YEAR, joined)
        for horizon in (30.0, 90.0, 180.0, 365.0, 730.0, 75.0):
            fails_within(laws.shape[0], laws.life[0], units.age[row], horizon, joined)
            fails_within(laws.shape[0], laws.life[0], 0.0, horizon / 2)
    return (time.process_time() - began) / count


def check(rng, vehicles):
    """Failures expected in a year, in cells and one by one."""
    laws = laws_of(rng, 1)
    units = units_of(vehicles, [0])
    law = laws.heavy_shape.T, laws.heavy_life.T
    known = units.kind == KNOWN
    first = np.empty((HEAVIEST, vehicles))
    first[:, known] = fails_within(*law, units.age[known], YEAR)
    first[:, ~known] = fails_within(*law, units.age[~known], YEAR, units.joined[~known])
    one_by_one = (first * (1 + fails_within(*law, 0.0, YEAR / 2))).mean(axis=0)
    assert_allclose(failures_in_a_year(laws, units).sum(), one_by_one.sum(), rtol=0.01)
    print("checked: failures expected in cells and one by one agree within a hundredth")


def main():
    given = asked(__doc__, 10_000, 2_000, repeat=1)
    rng = np.random.default_rng(2075)
    check(rng, given.size)
    runs = [foretold(rng, given.size, given.groups) for _ in range(given.repeat)]
    naive = unit_at_a_time(given.size, runs[0][2], NAIVE_UNITS) * given.size * given.groups
    past, ahead = (np.median([run[place] for run in runs], axis=0) for place in (0, 1))
    clock, processor = past + ahead
    seconds = {OURS: clock, "a unit at a time": naive}
    columns = {
        "processor": {OURS: f"{processor:.1f}", "a unit at a time": f"{naive:.1f}"},
        "of it past origins": {OURS: f"{past[1]:.1f}"},
        "processor ms a group": {OURS: f"{1000 * processor / given.groups:.1f}"},
    }
    show(f"{given.groups:,} groups, {given.size:,} vehicles, {threads()} threads", seconds, columns)
    print(versions("numpy", "scipy", "polars"))


if __name__ == "__main__":
    main()
