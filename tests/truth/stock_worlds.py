"""Fleets whose parts fail by known laws, and the closed records of fifteen years: worlds for the forecast of demand.

Eight components; cars come by habit, join, leave without a word. In a world demand is steady, grows, shrinks, comes in
a wave of units fitted at one time, or changes its law. Times are in years since `FIRST`, distances in 1,000 km.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date, timedelta
from math import gamma

import numpy as np

YEAR = 365.25
FIRST = date(2000, 1, 1)
END = 15.2
ORIGINS = range(7, 15)
HORIZONS = (60.0, 180.0, 400.0)
WORLDS = ("steady", "growing", "shrinking", "wave", "campaign late", "law changes")


@dataclass(frozen=True)
class Component:
    """Weibull shape and scale (years or 1,000 km), positions, share of repairs taking two, share sold besides."""

    shape: float
    scale: float
    by_distance: bool
    positions: int
    pairs: float = 0.0
    sold: float = 0.0

    @property
    def rate(self):
        """Failures of a position in a year, in the long run, by a car of mean use."""
        return (1.8 * np.exp(0.18) if self.by_distance else 1.0) / (self.scale * gamma(1 + 1 / self.shape))

    @property
    def preventive(self):
        """Preventive replacements of a position in a year."""
        return PREVENTIVE / (1 - PREVENTIVE) * self.rate


COMPONENTS = (
    Component(2.2, 42.0, True, 1, 0.0, 0.3),
    Component(1.3, 9.9, False, 2),
    Component(3.0, 8.2, False, 2, 0.2, 0.3),
    Component(1.8, 90.0, True, 4, 0.3),
    Component(0.9, 17.8, False, 1),
    Component(2.5, 14.0, False, 1),
    Component(3.5, 20.0, False, 4, 0.4),
    Component(2.0, 35.0, False, 1),
)
WAVE = 2
"""Component that a campaign renews in all cars."""

WORSE, WORSE_BY, WORSE_FROM = (2, 5), 0.6, 6.0
"""Components whose units fitted from year 6 on last 0.6 as long where the law changes."""

FAILED, PLANNED, JOINING, CAMPAIGN = range(4)
PREVENTIVE = 0.15
HIDDEN = 1.33
"""Share of replacements that are preventive; chance of a hidden fault at joining over the yearly rate."""

STAY, SHORT_STAY, SHORT_SHARE = 9.0, 0.7, 0.25
HABITS = ((0.85, 0.4, 0.55), (0.30, 0.25, 0.30), (0.0, 0.12, 0.15))
"""Chance of the yearly visit, other visits a year, share of the cars."""


@dataclass
class Fleet:
    """One fleet: its cars, what befell them, and what the shop saw."""

    world: str
    size: int
    joins: np.ndarray
    leaves: np.ndarray
    stay: np.ndarray
    built: np.ndarray
    use: np.ndarray
    visits: list[np.ndarray] = field(default_factory=list)
    events: list[tuple] = field(default_factory=list)
    fitted_before: list[np.ndarray] = field(default_factory=list)
    sold: list[np.ndarray] = field(default_factory=list)

    @property
    def cars(self):
        return self.joins.size

    def scales(self, component):
        """Life of each car's units in years."""
        return component.scale / self.use if component.by_distance else np.full(self.cars, component.scale)


def joining_rate(world, size, time):
    usual = size / 7.0
    if world == "growing":
        return usual * (1 + np.clip((time - 7) / 3, 0, 1))
    return usual * (time < 8) if world == "shrinking" else usual * np.ones_like(time)


def fleet(rng, world, size):
    """Simulate a fleet of so many cars at the start."""
    most = 2 * size / 7.0
    joins = np.sort(rng.uniform(0, END, rng.poisson(most * END)))
    joins = joins[rng.random(joins.size) < joining_rate(world, size, joins) / most]
    joins = np.concatenate((np.zeros(size), joins))
    cars = joins.size
    stay = np.where((rng.random(cars) < SHORT_SHARE) & (joins > 0), SHORT_STAY, STAY)
    leaves = joins + rng.exponential(stay)
    use = np.exp(np.log(1.8) + 0.6 * rng.standard_normal(cars))
    made = Fleet(world, size, joins, leaves, stay, -rng.uniform(10, 35, cars), use)
    _come(rng, made)
    campaign = rng.uniform(1, 3, cars) + 4 * (world == "campaign late")
    for number, component in enumerate(COMPONENTS):
        before = np.empty((cars, component.positions))
        for position in range(component.positions):
            before[:, position] = _live(rng, made, number, position, campaign)
        made.fitted_before.append(before)
        often = component.sold * component.rate * component.positions * size * (size % 2 == 0)
        made.sold.append(np.sort(rng.uniform(0, END, rng.poisson(often * END))))
    made.events.sort(key=lambda event: event[3])
    return made


def needed(made, number, origin):
    """Parts needed within each horizon after an origin."""
    times = [(time, two) for _, which, _, time, _, two in made.events if which == number]
    when, two = (np.array(column) for column in zip(*times, strict=True)) if times else (np.zeros(0), np.zeros(0))
    sold = made.sold[number]
    ends = [origin + days / YEAR for days in HORIZONS]
    return [int(two[(when > origin) & (when <= end)].sum() + ((sold > origin) & (sold <= end)).sum()) for end in ends]


def day(time):
    return FIRST + timedelta(days=int(np.floor(time * YEAR)))


def _come(rng, made):
    """Visits that no part causes."""
    habit = rng.choice(3, size=made.cars, p=[share for *_, share in HABITS])
    until = np.minimum(made.leaves, END)
    for car in range(made.cars):
        yearly, others, _ = HABITS[habit[car]]
        joins = made.joins[car]
        services = np.arange(joins + rng.random(), until[car]) if joins == 0 else np.arange(joins + 1, until[car])
        services = services[rng.random(services.size) < yearly] + 0.0
        services += 0.05 * rng.standard_normal(services.size)
        other = joins + np.cumsum(rng.exponential(1 / others, 30))
        at_joining = [joins] if joins > 0 else []
        seen = np.concatenate((at_joining, services, other[other < until[car]]))
        made.visits.append(np.sort(seen.clip(joins, until[car])))


def _live(rng, made, number, position, campaign):
    """Let the units of one position follow one another; return when the unit there at joining was fitted."""
    component, joins, until = COMPONENTS[number], made.joins, np.minimum(made.leaves, END)
    fitted, fails = _before_joining(rng, made, component)
    before = fitted.copy()
    line = _Line(rng, made, number, position)
    hidden = np.flatnonzero((joins > 0) & (rng.random(made.cars) < HIDDEN * component.rate))
    line.write(hidden, joins[hidden], JOINING)
    fitted[hidden] = joins[hidden]
    fails[hidden] = joins[hidden] + line.life(hidden, fitted[hidden])
    waved = made.world in ("wave", "campaign late") and number == WAVE
    here = np.arange(made.cars)
    while here.size:
        planned = np.maximum(fitted[here] + 1, joins[here]) + rng.exponential(1 / component.preventive, here.size)
        due = waved & (fitted[here] < campaign[here]) & (joins[here] < campaign[here])
        times = np.stack((fails[here], planned, np.where(due, campaign[here], np.inf)))
        kind, first = times.argmin(axis=0), times.min(axis=0)
        goes_on = first <= until[here]
        here, kind, first = here[goes_on], kind[goes_on], first[goes_on]
        for row, name in enumerate((FAILED, PLANNED, CAMPAIGN)):
            line.write(here[kind == row], first[kind == row], name)
        fitted[here], fails[here] = first, first + line.life(here, first)
    return before


def _before_joining(rng, made, component):
    """Return when the unit found at joining was fitted and when it fails: renewed since the car was built."""
    scale = made.scales(component)
    fitted = made.built.copy()
    fails = fitted + scale * rng.weibull(component.shape, made.cars)
    while (early := np.flatnonzero(fails < made.joins)).size:
        fitted[early] = fails[early]
        fails[early] = fitted[early] + scale[early] * rng.weibull(component.shape, early.size)
    return fitted, fails


class _Line:
    """Lives of new units at one position, and what is noted of them."""

    def __init__(self, rng, made, number, position):
        self._rng, self._made, self._number, self._position = rng, made, number, position
        self._component, self._scale = COMPONENTS[number], made.scales(COMPONENTS[number])
        self._worse = made.world == "law changes" and number in WORSE

    def life(self, cars, fitted):
        short = np.where(self._worse & (fitted > WORSE_FROM), WORSE_BY, 1.0)
        return self._scale[cars] * short * self._rng.weibull(self._component.shape, cars.size)

    def write(self, cars, times, kind):
        two = 1 + (self._rng.random(cars.size) < self._component.pairs)
        for car, time, parts in zip(cars.tolist(), times.tolist(), two.tolist(), strict=True):
            self._made.events.append((car, self._number, self._position, time, kind, parts))
