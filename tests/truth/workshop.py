"""Closed records of a workshop, from parts that last as a known law says: who comes when, and what is written down.

One component is followed (``hose``); the failures of others bring the car in as well. Nobody says goodbye: a car that
leaves is never seen again.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta

import numpy as np
import polars as pl

from tests.fleet import ledger_of

YEAR = 365.25
SHAPE, LIFE = 2.0, 8.0 * YEAR
FIVE_YEARS = 1826
TRUE_AT_FIVE = float(np.exp(-((FIVE_YEARS / LIFE) ** SHAPE)))
FIRST, LAST = date(2000, 1, 1), date(2014, 12, 31)
DAYS = (LAST - FIRST).days


@dataclass
class Habits:
    """How cars come and what is noted.

    Attributes
    ----------
    serviced
        Share of the cars that come for a planned service once a year.
    other_failures
        Failures of other components, per year.
    check_overs
        Share of the hose's repairs looked at again after two weeks, without a planned line.
    age_when_joining
        Years, from and to; 0 and 0 = in care since new.
    joined_by_fault
        Share of the cars that come for the first time because the hose has failed.
    """

    serviced: float = 1.0
    other_failures: float = 0.3
    check_overs: float = 0.0
    age_when_joining: tuple[float, float] = (0.0, 0.0)
    joined_by_fault: float = 0.0


@dataclass
class _Book:
    vehicles: list[tuple] = field(default_factory=list)
    lines: list[tuple] = field(default_factory=list)

    def write(self, car: str, day: float, component: str, reason: str, action: str) -> None:
        at = FIRST + timedelta(days=int(day))
        self.lines.append((f"{car}-{len(self.lines)}", car, at, component, reason, action))


def workshop(rng, cars, habits):
    """Return a ledger with the records of so many cars up to `LAST`."""
    book = _Book()
    for number in range(cars):
        _keep(rng, book, f"C{number}", habits)
    repairs = pl.DataFrame(
        book.lines,
        schema=["record_id", "vehicle_id", "closed_on", "component", "reason", "action"],
        orient="row",
    ).with_columns(opened_on="closed_on", line_no=pl.lit(1), line_id=pl.col("record_id") + "/1", source=pl.lit(""))
    vehicles = pl.DataFrame(book.vehicles, schema=["vehicle_id", "series", "built_on"], orient="row")
    connection = ledger_of()
    for name, rows in (("vehicles", vehicles), ("repairs", repairs)):
        connection.register("rows_in", rows)
        connection.execute(f"insert into {name} by name select * from rows_in")
        connection.unregister("rows_in")
    return connection


def _keep(rng, book, car, habits):
    """Write down all that is seen of one car."""
    built, wish, fails = _before(rng, habits)
    by_fault = rng.random() < habits.joined_by_fault
    joins = fails if by_fault else wish
    leaves = min(joins + rng.uniform(3, 14) * YEAR, DAYS)
    if joins >= leaves:
        return
    book.vehicles.append((car, "S1", FIRST + timedelta(days=int(built))))
    if not by_fault:
        book.write(car, joins, "filter", "planned", "replaced")
    _hose(rng, book, car, habits, fails, leaves)
    others = joins + np.cumsum(rng.exponential(YEAR / habits.other_failures, 60))
    _each(book, car, others[others < leaves], "lamp", "failure")
    if rng.random() < habits.serviced:
        services = np.arange(joins + YEAR, leaves, YEAR) + rng.uniform(-30, 30)
        _each(book, car, services[services < leaves], "filter", "planned")


def _before(rng, habits):
    """Return when the car was built, when it would join, and when the hose it then has fails."""
    age = rng.uniform(*habits.age_when_joining) * YEAR
    wish = rng.uniform(0, 4 * YEAR)
    fails = wish - age + LIFE * rng.weibull(SHAPE)
    while fails < wish:
        fails += LIFE * rng.weibull(SHAPE)
    return wish - age, wish, fails


def _hose(rng, book, car, habits, fails, leaves):
    while fails < leaves:
        book.write(car, fails, "hose", "failure", "replaced")
        if rng.random() < habits.check_overs and fails + 14 < leaves:
            book.write(car, fails + 14, "hose", "no fault found", "inspected")
        fails += LIFE * rng.weibull(SHAPE)


def _each(book, car, days, component, reason):
    for day in days:
        book.write(car, day, component, reason, "replaced")
