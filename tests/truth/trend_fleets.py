"""Closed records of fleets in which failures come evenly, or more often every year.

Each component has a series of cars of its own, so that one analysis reads all of them; 20 make a fleet. The long run
prints what DEVELOPERS.md tells: ``python -m tests.truth.trend_fleets --fleets 20``.
"""

from __future__ import annotations

import argparse
import math
import sys
from dataclasses import dataclass, replace

import numpy as np
import polars as pl
from scipy import special

from analytics.parameters import Parameters
from analytics.recurrence.trend import trends
from analytics.recurrence.trend_verdict import with_verdict
from analytics.spells.exposure import build_exposure
from tests.truth.comebacks import DAYS, LAST, YEAR, _on, workshops

COMPONENTS = 20
"""Of a fleet."""


@dataclass(frozen=True)
class World:
    """One kind of fleet.

    Attributes
    ----------
    rate
        Failures a year of a car like the others, half-way through the records.
    growth
        Rate of a year over that of the year before.
    wear
        Weibull shape of the parts' lives; each failure renews the part, whose age is settled when the car joins.
    unlike
        Shape of the gamma law by which cars differ; 0 = alike.
    returning
        Share of the repairs that come back within 3 to 85 days.
    silent
        Share of the failures that wait for the car's next visit to be found at inspection.
    serviced
        Share of the cars that come for a planned service once a year.
    cars
        Of each component.
    """

    rate: float = 0.2
    growth: float = 1.0
    wear: float = 1.0
    unlike: float = 1.5
    returning: float = 0.0
    silent: float = 0.0
    serviced: float = 0.7
    cars: int = 60

    def passed(self, day: float) -> float:
        """Years of the middle rate that have passed on a day, so that lives are even in them."""
        log, middle = np.log(self.growth), DAYS / 2
        since = (day - middle) / YEAR
        return float(np.expm1(since * log) / log) if log else since

    def day_of(self, passed: float) -> float:
        """Day by which so many have passed; never, where the rate falls too soon."""
        log = np.log(self.growth)
        inside = 1 + passed * log
        years = np.log(inside) / log if log and inside > 0 else passed if not log else np.inf
        return float(DAYS / 2 + years * YEAR)


def keep(rng, world, component, car, vehicles, lines):
    """Write down all that is seen of one car; nobody says goodbye."""
    joins = rng.uniform(0, 9) * YEAR
    leaves = min(joins + rng.uniform(2, 14) * YEAR, DAYS)
    vehicles.append((car, component, _on(joins - rng.uniform(20, 40) * YEAR)))
    lines.append((car, _on(joins), "filter", "planned", "replaced"))
    services = np.array([])
    if rng.random() < world.serviced:
        services = np.arange(joins + YEAR, leaves, YEAR) + rng.uniform(-30, 30)
    others = joins + np.cumsum(rng.exponential(YEAR / 0.3, 60))
    others = others[others < leaves]
    visits = np.sort(np.concatenate([services[services < leaves], others]))
    lines += [(car, _on(day), "lamp", "failure", "replaced") for day in others]
    lines += [(car, _on(day), "filter", "planned", "replaced") for day in services[services < leaves]]
    _failures(rng, world, (component, car), (joins, leaves, visits), lines)


def _failures(rng, world, names, seen, lines):
    component, car = names
    joins, leaves, visits = seen
    often = world.rate * (rng.gamma(world.unlike) / world.unlike if world.unlike else 1.0)
    mean = 1 / max(often, 1e-6)
    scale = mean / math.gamma(1 + 1 / world.wear)

    def life():
        return scale * rng.weibull(world.wear)

    # age and rest of the part a settled process holds on a given day: the first life that ends after a long run-in
    at = world.passed(joins) - 20 * mean
    while at < world.passed(joins):
        at += life()
    day = world.day_of(at)
    while day < leaves:
        day = max(np.ceil(day), np.floor(joins) + 1)
        reason = "failure"
        if rng.random() < world.silent:
            later = visits[visits >= day]
            if not later.size:
                return
            day, reason = later[0], "found at inspection"
        lines.append((car, _on(day), component, reason, "exchanged"))
        soon = rng.random() < world.returning
        day = day + rng.uniform(3, 85) if soon else world.day_of(world.passed(day) + life())


def told(world: World, fleets: int, seed: int) -> pl.DataFrame:
    """Return the trend of every component, its `fleet` beside it, adjusted and said as if each fleet stood alone."""
    rng = np.random.default_rng(seed)
    exposure = build_exposure(workshops(rng, world, fleets * COMPONENTS, keep), LAST, Parameters())
    ours = ~pl.col("component").is_in(["filter", "lamp"])
    found = trends(exposure.fault.filter(ours, "used"), exposure.watch.filter(ours), ["component"], Parameters())
    plain = taken_singly(exposure.fault.filter(ours, "used"), exposure.watch.filter(ours))
    rows = found.join(plain, on="component", how="left").with_columns(
        position=pl.lit("all"), series=pl.lit("all"), fleet=(pl.col("component").cast(pl.Int64) - 1) // COMPONENTS
    )
    return pl.concat([with_verdict(part, Parameters()) for part in rows.partition_by("fleet", maintain_order=True)])


def taken_singly(faults: pl.DataFrame, watch: pl.DataFrame) -> pl.DataFrame:
    """Return Laplace's p-value with every failure taken as a witness of its own, over whole windows."""
    length = (pl.col("end_on") - pl.col("start_on")).dt.total_days()
    at = (pl.col("visit_day") - pl.col("start_on")).dt.total_days()
    rows = faults.join(watch.select("component", "vehicle_id", "start_on", "end_on"), on=["component", "vehicle_id"])
    z = (at - length / 2).sum() / ((length**2).sum() / 12).sqrt()
    by = rows.group_by("component").agg(z=z)
    return by.select("component", singly_p=pl.Series(2 * special.ndtr(-by["z"].abs().to_numpy())))


def summary(rows: pl.DataFrame, growth: float) -> dict[str, float]:
    """Return shares of components, and of fleets, of which something is said, and how often the limits hold."""
    p, said = rows["trend_p_value"].drop_nulls(), pl.col("trend").is_in(["worsening", "improving"])
    inside = (pl.col("yearly_change_lower") <= growth) & (growth <= pl.col("yearly_change_upper"))
    return {
        "failures": rows["trend_failures"].mean(),
        "p < 0.05": (p < 0.05).mean(),
        "p < 0.10": (p < 0.10).mean(),
        "singly p < 0.05": (rows["singly_p"].drop_nulls() < 0.05).mean(),
        "said": rows.select(said.mean()).item(),
        "fleets": rows.group_by("fleet").agg(said.any())["trend"].mean(),
        "held": rows.drop_nulls("yearly_change").select(inside.mean()).item(),
        "change": rows["yearly_change"].median(),
        "detectable": rows["detectable_yearly_change"].median(),
    }


EVEN = {
    "cars alike": World(unlike=0.0),
    "cars differ": World(),
    "parts wear and are renewed": World(wear=3.0),
    "a fifth of the repairs comes back": World(returning=0.2),
    "half is found at inspection": World(silent=0.5),
    "breakdowns only": World(serviced=0.0),
    "20 cars": World(cars=20),
}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--fleets", type=int, default=20)
    parser.add_argument("--seed", type=int, default=7)
    asked = parser.parse_args()
    worlds = dict(EVEN)
    for growth in (1.08, 0.92, 1.15):
        worlds |= {
            f"{name}, a year {growth}": replace(EVEN[name], growth=growth) for name in ("cars differ", "20 cars")
        }
    for name, world in worlds.items():
        figures = summary(told(world, asked.fleets, asked.seed), world.growth)
        sys.stdout.write(f"{name}: {', '.join(f'{k} {v or 0:.3f}' for k, v in figures.items())}\n")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
