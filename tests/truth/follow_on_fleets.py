"""Fleets whose components fail by known laws: bad cars, ageing, seasons, bursts on one order, and harm done."""

from dataclasses import dataclass
from datetime import date

import numpy as np
import polars as pl

from analytics.recurrence.declared_pairs import STATED
from analytics.recurrence.numbered_faults import FollowOnRecords

FIRST_DAY, LAST_DAY, YEAR = 10_000, 15_110, 365.25
SHOCKED = (2, 3)


@dataclass(frozen=True, slots=True)
class World:
    """What is true of a fleet.

    Attributes
    ----------
    cars, components
        How many; about a third as many cars again leave and are replaced.
    per_year
        Failures of a usual component on a usual car in a year.
    unlike
        Standard deviation of the cars' factors: bad cars fail more in everything.
    wear
        How fast failures become more frequent with the age of the car: power of its age.
    season
        Depth of the yearly rhythm, each component with a peak of its own, 0-1.
    replaced
        Whether half of the components occur in the first years only and half in the last.
    burst
        Chance that a failure brings another one to the same order.
    stay
        Median days in the workshop; components differ by a factor of five either way.
    found
        Share of faults found at an inspection.
    harm
        Chance that a failure of component 0 makes component 1 fail within 110 days.
    shocks
        Per car and year, events after which components 2 and 3 both fail within 120 days, in whatever order.
    come_for
        Share of the cars that join because component 0 failed.
    in_passing
        Share of the failures of component 0 at which component 1 is renewed, unless it was renewed within a year.
    told
        Share of the harm that a record tells of as a consequence, naming its cause.
    stated
        Whether it is stated beforehand that component 0 may harm component 1.
    """

    cars: int = 150
    components: int = 20
    per_year: float = 0.10
    unlike: float = 0.7
    wear: float = 1.0
    season: float = 0.0
    replaced: bool = False
    burst: float = 0.15
    stay: float = 4.0
    found: float = 0.1
    harm: float = 0.0
    shocks: float = 0.0
    come_for: float = 0.0
    in_passing: float = 0.0
    told: float = 0.0
    stated: bool = False


def fleet(world: World, seed: int) -> FollowOnRecords:
    """Return what the workshop's records tell of one fleet."""
    rng = np.random.default_rng(seed)
    car, kind, day, joined = _failures(world, rng)
    car, kind, day, said = _harmed(world, rng, car, kind, day)
    more = rng.random(car.size) < world.burst
    kind = np.concatenate([kind, rng.integers(0, world.components, more.sum())])
    said = np.concatenate([said, np.zeros(more.sum(), bool)])
    car, day = (np.concatenate([each, each[more]]) for each in (car, day))
    inside = day <= LAST_DAY
    return _records(world, rng, car[inside], kind[inside], day[inside], said[inside], joined)


def _failures(world, rng):
    """Draw failures one component at a time from a process thinned to its intensity."""
    joins = rng.uniform(FIRST_DAY - 8 * YEAR, LAST_DAY, int(1.6 * world.cars))
    leaves = joins + rng.exponential(9 * YEAR, joins.size)
    begin, end = np.maximum(joins, FIRST_DAY), np.minimum(leaves, LAST_DAY)
    age = rng.uniform(8, 30, joins.size) * YEAR
    factor = rng.gamma(1 / world.unlike**2, world.unlike**2, joins.size)
    peak, middle = rng.uniform(0, YEAR, world.components), rng.uniform(FIRST_DAY + 1500, LAST_DAY - 1500)
    usual = world.per_year * np.exp(0.5 * rng.standard_normal(world.components)) / YEAR
    bound = (1 + world.season) * (40 / 20) ** world.wear
    stay = np.maximum(end - begin, 0)
    many = rng.poisson(np.outer(factor * stay, usual * bound))
    car, kind = (np.repeat(axis.ravel(), many.ravel()) for axis in np.indices(many.shape))
    day = begin[car] + rng.random(car.size) * stay[car]
    old = np.minimum(age[car] + day - joins[car], 40 * YEAR) / (20 * YEAR)
    share = old**world.wear * (1 + world.season * np.cos(2 * np.pi * (day - peak[kind]) / YEAR)) / bound
    if world.replaced:
        share = share * np.where((kind % 2 == 0) == (day < middle), 1, 0.05)
    kept = rng.random(car.size) < share
    first = np.flatnonzero((rng.random(joins.size) < world.come_for) & (joins > FIRST_DAY) & (stay > 0))
    car = np.concatenate([car[kept], first])
    kind = np.concatenate([kind[kept], np.zeros(first.size, int)])
    return car, kind, np.floor(np.concatenate([day[kept], begin[first]])).astype(int), np.floor(begin).astype(int)


def _harmed(world, rng, car, kind, day):
    """Let component 0 harm component 1, and shocks two components alike."""
    harmed = np.flatnonzero((kind == 0) & (rng.random(kind.size) < world.harm))
    said = rng.random(harmed.size) < world.told
    shocked = np.repeat(rng.choice(car, rng.poisson(world.shocks * world.cars * 14)) if car.size else car, 2)
    when = np.repeat(rng.integers(FIRST_DAY, LAST_DAY, shocked.size // 2), 2)
    return (
        np.concatenate([car, car[harmed], shocked]),
        np.concatenate([kind, np.ones(harmed.size, int), np.tile(SHOCKED, shocked.size // 2)]),
        np.concatenate([day, day[harmed] + rng.integers(4, 111, harmed.size), when + rng.integers(0, 120, when.size)]),
        np.concatenate([np.zeros(car.size, bool), said, np.zeros(shocked.size, bool)]),
    )


def _records(world, rng, car, kind, day, said, joined):
    repair = np.exp(rng.uniform(-np.log(5), np.log(5), world.components)) * world.stay
    closed = day + np.floor(repair[kind] * np.exp(0.8 * rng.standard_normal(car.size))).astype(int)
    order = np.lexsort((closed, day, car))
    car, kind, day, closed, said = (each[order] for each in (car, kind, day, closed, said))
    reached = np.maximum.accumulate(car * 10**6 + closed)
    new = np.concatenate([[True], car[1:] * 10**6 + day[1:] > reached[:-1]])
    visit = np.cumsum(new) - 1
    came, went = day[new], np.maximum.reduceat(closed, np.flatnonzero(new))
    renewed, of = _in_passing(world, rng, car, kind, day)
    words = np.where(
        said, "consequence", np.where(rng.random(car.size) < world.found, "found at inspection", "failure")
    )
    name = np.array([f"part {n:02d}" for n in range(world.components)])
    who = np.array([f"car {n}" for n in range(joined.size)])
    rows = pl.DataFrame(
        {
            "vehicle_id": who[car],
            "visit_day": pl.Series(came[visit].astype(np.int32)).cast(pl.Date),
            "component": name[kind],
            "reads_as": words,
            "reason": words,
            "cause": np.where(said, "harmed by part 00", ""),
            "why_unused": pl.Series(np.where(came[visit] <= joined[car] + 60, "joining fault", "")).replace("", None),
            "fault_record": [f"{n}/1" for n in range(car.size)],
        }
    )
    passing = pl.DataFrame(
        {
            "vehicle_id": who[car[of]],
            "visit_day": pl.Series(came[visit[of]].astype(np.int32)).cast(pl.Date),
            "component": name[renewed],
            "renews": np.ones(of.size, bool),
            "reason": ["changed in passing"] * of.size,
            "cause": [""] * of.size,
        }
    )
    lines = rows.select("vehicle_id", "visit_day", "component", "reason", "cause", renews=pl.lit(value=True))
    return FollowOnRecords(
        fault=rows.drop("reason", "cause"),
        line=pl.concat([lines, passing.select(lines.columns)]),
        visit=pl.DataFrame(
            {"vehicle_id": who[car[new]], "day": came.astype(np.int32), "closed_on": went.astype(np.int32)}
        ).with_columns(pl.col("day", "closed_on").cast(pl.Date)),
        vehicle=pl.DataFrame({"vehicle_id": who, "left_on": [None] * who.size}, schema_overrides={"left_on": pl.Date}),
        facts=pl.DataFrame({"component": name, "safety_critical": [False] * name.size}),
        stated=pl.DataFrame([("part 00", "part 01")] * world.stated, STATED, orient="row"),
    )


def _in_passing(world, rng, car, kind, day):
    """Return the failures of component 0 at which component 1 is renewed, unless it was within a year."""
    at = np.flatnonzero((kind == 0) & (rng.random(kind.size) < world.in_passing))
    other = np.sort((car * 10**6 + day)[kind == 1])
    code = (car * 10**6 + day)[at]
    last = other[np.maximum(np.searchsorted(other, code) - 1, 0)] if other.size else code - 10**6
    old = (code - last > YEAR) | (last >= code)
    return np.ones(int(old.sum()), int), at[old]


def day_of(number: int) -> date:
    """Return the calendar day of one of the simulation's days."""
    return date.fromordinal(date(1970, 1, 1).toordinal() + number)
