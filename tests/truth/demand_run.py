"""Forecasts of demand in worlds whose truth is known, through closed records, beside those of an oracle.

The long run: ``python -m tests.truth.demand_run --fleets 20 --seed 1`` (``--world NAME`` for one world, ``--small`` for
fleets of 6 to 20 cars). It prints, by world and method, how often the bounds held, mean over demand, and losses, and
every band of `demand_bands` that is not kept.
"""

from __future__ import annotations

import argparse
import sys
import time

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.stock import CareRecords, StockRecords
from analytics.stock.backtest import Foretold, forecast_checks, foretold, judged
from analytics.stock.groups import known_groups
from analytics.stock_inputs import handed_on
from tests.fleet import ledger_of
from tests.truth import stock_worlds as worlds
from tests.truth.demand_bands import BANDS, by_demand, missed, odd_fleets
from tests.truth.stock_oracle import best_known
from tests.truth.stock_records import part, records

ORACLE = "oracle"
SMALL, USUAL = (6.0, 20.0), (20.0, 120.0)


def run(world, fleets, seed, *, origins=worlds.ORIGINS, sizes=USUAL, say=lambda _: None):
    """Return `forecast_checks` of every method and of the oracle, with `world`, `fleet`, `component`."""
    rng = np.random.default_rng([seed, worlds.WORLDS.index(world)])
    made = [worlds.fleet(rng, world, round(float(np.exp(rng.uniform(*np.log(sizes)))))) for _ in range(fleets)]
    ledger = ledger_of(**records(made))
    parts = []
    for origin in origins:
        began = time.process_time()
        known = handed_on(ledger, worlds.day(origin), Parameters())
        read = time.process_time() - began
        said = [forecast for fleet in range(fleets) for forecast in _said(*_of_fleet(known, fleet), worlds.day(origin))]
        spent = time.process_time() - began - read
        said += [forecast for fleet in range(fleets) for forecast in _oracle(rng, made[fleet], fleet, origin)]
        parts.append(forecast_checks(said, _happened(made, origin)))
        say(f"{world}, year {origin}: records {read:.1f} s, forecasts {spent:.1f} s")
    return pl.concat(parts).with_columns(
        world=pl.lit(world),
        component=pl.col("part_no").str.extract(r"P(\d)").cast(pl.Int64),
        fleet=pl.col("part_no").str.extract(r"F(\d+)").cast(pl.Int64),
    )


def _of_fleet(known, fleet):
    """The same of one fleet, which knows of no other."""
    records, care, _ = known
    here = pl.col("series") == f"F{fleet}"
    vehicles = records.vehicles.filter(here)
    component = pl.col("component").str.ends_with(f" F{fleet}")
    return (
        StockRecords(
            lines=records.lines.filter(here),
            visits=records.visits.join(vehicles.select("vehicle_id"), on="vehicle_id", how="semi"),
            vehicles=vehicles,
            parts=records.parts.filter(here),
            sales=records.sales.filter(pl.col("part_no").str.ends_with(f"-F{fleet}")),
        ),
        CareRecords(
            units=care.units.filter(here),
            faults=care.faults.filter(here),
            spells=care.spells.filter(here),
            groupings=care.groupings.filter(component),
            scales=care.scales.filter(component),
            facts=care.facts.filter(component),
        ),
    )


def _said(records, care, as_of):
    groups = known_groups(records, care, Parameters(), as_of).groups
    return [forecast for group in groups for forecast in foretold(group, as_of, worlds.HORIZONS)]


def _oracle(rng, made, fleet, origin):
    for number in range(len(worlds.COMPONENTS)):
        drawn = best_known(rng, made, number, origin)
        for row, days in enumerate(worlds.HORIZONS):
            counts = np.bincount(drawn[:, row].astype(np.int64))
            yield Foretold(part(fleet, number), ORACLE, worlds.day(origin), days, counts / counts.sum(),
                           float(drawn[:, row].mean()))  # fmt: skip


def _happened(made, origin):
    rows = [
        (part(fleet, number), worlds.day(origin), days, parts)
        for fleet, one in enumerate(made)
        for number in range(len(worlds.COMPONENTS))
        for days, parts in zip(worlds.HORIZONS, worlds.needed(one, number, origin), strict=True)
    ]
    return pl.DataFrame(rows, schema=["part_no", "origin", "horizon_days", "happened"], orient="row")


def told(checks, by=("method",)):
    """Sum up by method: bounds held, mean over demand, loss over the oracle's and over the pooled rate's."""
    found = judged(checks, by)
    others = [column for column in by if column != "method"]
    for name, column in ((ORACLE, "over_oracle"), ("pooled rate", "over_pooled")):
        reference = found.filter(pl.col("method") == name).select(*others, pl.col("loss").alias("reference"))
        joined = found.join(reference, on=others, how="left") if others else found.join(reference, how="cross")
        found = found.with_columns((joined["loss"] / joined["reference"]).alias(column))
    return found


def _say(*what):
    sys.stdout.write("\n".join(map(str, what)) + "\n")
    sys.stdout.flush()


def _tables(world, checks, *, small):
    """Give the sums of a world, and of the components it is about, under the names that their bands have."""
    yield ("fleets of 6 to 20 cars" if small and world == "steady" else world), told(checks)
    if world in ("wave", "campaign late"):
        yield f"{world}, its part", told(checks.filter(pl.col("component") == worlds.WAVE))
    if world == "law changes":
        yield "law changes, its parts", told(checks.filter(pl.col("component").is_in(worlds.WORSE)))


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--fleets", type=int, default=20)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--world", choices=worlds.WORLDS, action="append")
    parser.add_argument("--small", action="store_true", help="fleets of 6 to 20 cars")
    parser.add_argument("--to", help="write the checks to this Parquet file")
    given = parser.parse_args()
    sizes, parts = SMALL if given.small else USUAL, []
    pl.Config.set_tbl_cols(20).set_tbl_rows(60).set_tbl_width_chars(160).set_float_precision(3)
    for world in given.world or worlds.WORLDS:
        checks = run(world, given.fleets, given.seed, sizes=sizes, say=_say)
        parts.append(checks)
        for name, table in _tables(world, checks, small=given.small):
            _say(name, table, *(missed(name, table) if name in BANDS else ()))
        if given.to:
            pl.concat(parts).write_parquet(given.to)
    every = pl.concat(parts)
    _say("bounds of 90 in 100, by expected demand", by_demand(every), "fleets outside", odd_fleets(every))


if __name__ == "__main__":
    main()
