"""Closed records of many workshops in one ledger, where a known share of the repairs does not hold.

Each workshop is a series of cars of its own with a component of its own, so that one analysis reads them all. The long
run prints what DEVELOPERS.md tells: ``python -m tests.truth.comebacks --workshops 150``.
"""

from __future__ import annotations

import argparse
import sys
from dataclasses import dataclass
from datetime import date, timedelta

import numpy as np
import polars as pl

from analytics.parameters import Parameters
from analytics.recurrence.returns import repeat_repairs
from analytics.spells.exposure import build_exposure
from tests.fleet import ledger_of

YEAR = 365.25
FIRST, LAST = date(2000, 1, 1), date(2014, 12, 31)
DAYS = (LAST - FIRST).days
SOON = (3, 85)
"""Days after hand-over, from and to, at which a repair that does not hold comes back."""


@dataclass(frozen=True)
class World:
    """One kind of workshop.

    Attributes
    ----------
    shape, years
        Weibull law of the part; `years` = 63.2 % failed.
    cars
        In each workshop.
    returning
        Share of the repairs that do not hold; the others last as the law says.
    minimal
        Share of the failures at which the unit stays: it goes on at its age.
    serviced
        Share of the cars that come for a planned service once a year.
    age_when_joining
        Years, from and to.
    """

    shape: float = 1.5
    years: float = 6.0
    cars: int = 60
    returning: float = 0.0
    minimal: float = 0.0
    serviced: float = 0.7
    age_when_joining: tuple[float, float] = (0.0, 25.0)

    def fails_within(self, days: float) -> float:
        """Share of new units that fail so soon."""
        return float(-np.expm1(-((days / (self.years * YEAR)) ** self.shape)))

    def comes_back_within(self, days: float) -> float:
        """Share of the repairs by a new unit that come back so soon, for whatever reason."""
        return self.returning + (1 - self.returning) * self.fails_within(days)

    def next_failure(self, rng: np.random.Generator, age: float) -> float:
        """Age in days at which a unit of that age fails."""
        life = self.years * YEAR
        passed = (age / life) ** self.shape
        return float(life * (passed + rng.exponential()) ** (1 / self.shape))


def workshops(rng: np.random.Generator, world, count: int, keep=None):
    """Return a ledger with the records of so many workshops; series and component of each are ``0001``, ``0002``..."""
    keep = keep or _keep
    vehicles: list[tuple] = []
    lines: list[tuple] = []
    for number in range(1, count + 1):
        for car in range(world.cars):
            keep(rng, world, f"{number:04d}", f"{number:04d}-{car}", vehicles, lines)
    repairs = pl.DataFrame(
        lines, schema=["vehicle_id", "closed_on", "component", "reason", "action"], orient="row"
    ).with_row_index("record_id")
    repairs = repairs.with_columns(
        pl.col("record_id").cast(pl.String),
        opened_on="closed_on",
        line_no=pl.lit(1),
        line_id=pl.format("{}/1", "record_id"),
        source=pl.lit(""),
    )
    cars = pl.DataFrame(vehicles, schema=["vehicle_id", "series", "built_on"], orient="row")
    connection = ledger_of()
    for name, rows in (("vehicles", cars), ("repairs", repairs)):
        connection.register("rows_in", rows)
        connection.execute(f"insert into {name} by name select * from rows_in")
        connection.unregister("rows_in")
    return connection


def _keep(rng, world, series, car, vehicles, lines):
    """Write down all that is seen of one car; nobody says goodbye."""
    joins = rng.uniform(0, 4) * YEAR
    leaves = min(joins + rng.uniform(3, 14) * YEAR, DAYS)
    built = joins - rng.uniform(*world.age_when_joining) * YEAR
    vehicles.append((car, series, _on(built)))
    lines.append((car, _on(joins), "filter", "planned", "replaced"))
    fitted = built
    fails = fitted + world.next_failure(rng, 0.0)
    while fails < joins:
        fitted, fails = fails, fails + world.next_failure(rng, 0.0)
    while fails < leaves:
        day = max(np.ceil(fails), np.floor(joins) + 1)
        stays = rng.random() < world.minimal
        lines.append((car, _on(day), series, "failure", "repaired" if stays else "exchanged"))
        fitted = fitted if stays else day
        if rng.random() < world.returning:
            fails = day + rng.uniform(*SOON)
        else:
            fails = fitted + world.next_failure(rng, day - fitted)
    others = joins + np.cumsum(rng.exponential(YEAR / 0.3, 60))
    lines += [(car, _on(day), "lamp", "failure", "replaced") for day in others[others < leaves]]
    if rng.random() < world.serviced:
        services = np.arange(joins + YEAR, leaves, YEAR) + rng.uniform(-30, 30)
        lines += [(car, _on(day), "filter", "planned", "replaced") for day in services[services < leaves]]


def _on(day: float) -> date:
    return FIRST + timedelta(days=int(day))


def analysed(world: World, count: int, seed: int):
    """Return the exposure of so many workshops, and their row of ``repeat_repair`` each."""
    exposure = build_exposure(workshops(np.random.default_rng(seed), world, count), LAST, Parameters())
    ours = ~pl.col("component").is_in(["filter", "lamp"])
    names = exposure.spell.filter(ours)["component"].unique()
    facts = pl.DataFrame({"component": names, "family": [None] * len(names)}, schema_overrides={"family": pl.String})
    rows = repeat_repairs(exposure.repaired.filter(ours), exposure.spell.filter(ours), facts, Parameters()).counts
    return exposure, rows.filter(pl.col("action") == "all", pl.col("part_origin") == "all")


def flagged(rows: pl.DataFrame) -> float:
    """Share of the workshops whose returns chance alone would reach in at most 5 of 100 cases."""
    return float((rows["p_value"] <= 0.05).to_numpy().mean())


def covered(rows: pl.DataFrame, truth: float) -> float:
    """Share of the workshops whose limits hold the truth."""
    return float(((rows["lower"] <= truth) & (truth <= rows["upper"])).to_numpy().mean())


def by_rule(exposure, rows: pl.DataFrame) -> dict[str, float]:
    """Share of all repairs that come back: as counted here, and by two rules that ask to see the car again."""
    ours = ~pl.col("component").is_in(["filter", "lamp"])
    last = exposure.record.filter(~ours).group_by("vehicle_id").agg(seen_on=pl.col("closed_on").max())
    repairs = exposure.repaired.filter(ours).join(last, on="vehicle_id", how="left")
    later = pl.col("seen_on") > pl.col("handed_on").dt.offset_by("90d")
    back = pl.col("return_record").is_not_null()
    watched = repairs.filter(pl.col("why_none").is_null())
    seen = watched.filter(later.fill_null(value=False))
    return {
        "as counted": rows["returns"].sum() / rows["repairs"].sum(),
        "only if seen later": seen.filter(back).height / seen.height,
        "returns at once": watched.filter(back).height / (watched.filter(back).height + seen.filter(~back).height),
    }


REGIMES = {"yearly": 1.0, "half of them": 0.5, "breakdowns only": 0.0}


def say(*told: object) -> None:
    sys.stdout.write(" ".join(map(str, told)) + "\n")
    sys.stdout.flush()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--workshops", type=int, default=150)
    parser.add_argument("--seed", type=int, default=5)
    asked = parser.parse_args()
    run = (asked.workshops, asked.seed)
    for name, share in REGIMES.items():
        told = by_rule(*analysed(World(returning=0.14, serviced=share), *run))
        say(f"0.14 return, {name}:", ", ".join(f"{rule} {found:.3f}" for rule, found in told.items()))
    for minimal in (0.0, 1.0):
        for shape in (0.8, 1.5, 3.0):
            for years in (3.0, 8.0):
                world = World(shape=shape, years=years, minimal=minimal)
                _, rows = analysed(world, *run)
                limits = "" if minimal else f", limits hold {covered(rows, world.comes_back_within(90)):.3f}"
                kind = "mended in place" if minimal else "renewed"
                chance = rows["expected_by_chance"].sum() / max(rows["returns"].sum(), 1)
                repairs = rows["repairs"].to_numpy().mean()
                told = f"none returns, {kind}, shape {shape}, {years} years, {repairs:.0f} repairs"
                say(f"{told}: flagged {flagged(rows):.3f}, expected over seen {chance:.2f}{limits}")
    for cars in (20, 60):
        world = World(returning=0.14, years=8.0, cars=cars)
        _, rows = analysed(world, *run)
        truth = world.comes_back_within(90)
        told = f"0.14 return, {rows['repairs'].to_numpy().mean():.0f} repairs"
        say(f"{told}: flagged {flagged(rows):.3f}, limits hold {covered(rows, truth):.3f}")


if __name__ == "__main__":
    main()
