"""Which cars are still in care: nobody says goodbye, so the chance falls with the visits a car has missed."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]
    Flags = NDArray[np.bool_]

ONE_VISIT_DAYS = 30
"""Visits within this of each other are one."""

TAUS: Floats = np.exp(np.linspace(np.log(0.4), np.log(20.0), 25))
"""Missed visits, in visits the car used to make, over which presence falls to 37 %; these are tried."""

OWN_VISITS = 2.0
"""A car's own rate of visits is drawn towards the fleet's by so many visits."""


@dataclass(frozen=True, slots=True)
class Seen:
    """When every car was seen up to a day; all of shape ``(cars,)``.

    Attributes
    ----------
    known
        Whether the car was seen at all, and is not known to have left.
    first, last
        Days since 1970-01-01 of the first and last visit; 0 where not known.
    missed
        z: time since the last visit, in visits at the car's own rate.
    """

    known: Flags
    first: Floats
    last: Floats
    missed: Floats


@dataclass(frozen=True, slots=True)
class Presence:
    """How presence falls: q = `level` x exp(-z / `tau`); `fitted` is false where the records are too young to tell."""

    level: float
    tau: float
    fitted: bool

    def of(self, seen: Seen) -> Floats:
        """Return q of every car; above 1 it multiplies the chance of a failure and counts as present (rule 38)."""
        q: Floats = np.where(seen.known, self.level * np.exp(-seen.missed / self.tau), 0.0)
        return q


def seen_until(car: Counts, visit_day: Floats, left_day: Floats, day: float) -> Seen:
    """Return when every car was seen up to a day.

    Parameters
    ----------
    car, visit_day
        Row of the car and day of each visit, sorted by both; shape ``(visits,)``.
    left_day
        Day on which the car left, infinite where nobody said so; shape ``(cars,)``.
    day
        Last day that counts, in days since 1970-01-01.

    Notes
    -----
    A car's rate is v = (x + 2) / (T + 2 / m), x its visits after the first, T the years between first and last visit,
    m the fleet's rate; z = years since the last visit x v / m (methods B6.1, steps 3 and 4).
    """
    kept = visit_day <= day
    car, visit_day = car[kept], visit_day[kept]
    cars = left_day.size
    first, last = np.full(cars, np.inf), np.full(cars, -np.inf)
    np.minimum.at(first, car, visit_day)
    np.maximum.at(last, car, visit_day)
    again = (car[1:] == car[:-1]) & (np.diff(visit_day) > ONE_VISIT_DAYS)
    more = np.bincount(car[1:][again], minlength=cars).astype(np.float64)
    seen = np.isfinite(first)
    first, last = np.where(seen, first, 0.0), np.where(seen, last, 0.0)
    watched = np.where(seen, day - first, 0.0).sum() / DAYS_PER_YEAR
    usual = (more.sum() + 1) / (watched + 1)
    own = (more + OWN_VISITS) / ((last - first) / DAYS_PER_YEAR + OWN_VISITS / usual)
    missed = np.where(seen, day - last, 0.0) / DAYS_PER_YEAR * own / usual
    return Seen(seen & (left_day > day), first, last, missed)


def presence(missed: Floats, observed: Floats, expected: Floats, parameters: Parameters) -> Presence:
    """Fit how presence falls, from failures seen and expected in the year after each past origin.

    Parameters
    ----------
    missed, observed, expected
        z, failures seen and failures expected of a car that is present; a value per car and origin, none = not fitted.
    parameters
        `presence_tau`, the prior's centre, and `presence_failures`, its weight on the level.

    Notes
    -----
    Poisson likelihood of the failures seen given A exp(-z / tau) times those expected; log tau is normal around the
    stated centre with spread 1, and A has so many failures of prior weight at 1.
    """
    weight = parameters.presence_failures
    if missed.size == 0:
        return Presence(1.0, parameters.presence_tau, fitted=False)
    present = np.exp(-missed / TAUS[:, None]) @ expected
    level = (observed.sum() + weight) / (present + weight)
    fit = observed.sum() * np.log(level) - (missed @ observed) / TAUS - level * present
    best = int((fit - 0.5 * np.log(TAUS / parameters.presence_tau) ** 2).argmax())
    return Presence(float(level[best]), float(TAUS[best]), fitted=True)
