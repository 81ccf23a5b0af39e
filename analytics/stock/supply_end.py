"""The last batch: how long it lasts in a fleet that shrinks, what stays unmet and what is left over."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import fftconvolve
from scipy.stats import binom

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.counting_law import Repairs
from analytics.stock.demand import short_of
from analytics.stock.installed_base import LEAST

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from analytics.stock.installed_base import BaseDemand

    Floats = NDArray[np.float64]

YEARS = 10
"""How far a batch is looked ahead."""

STEPS_A_YEAR = 2
"""Renewals are reckoned by half-years."""

RUNS_OUT = (0.1, 0.5, 0.9)
"""Chance that the batch has run out by then."""


@dataclass(frozen=True, slots=True)
class Batch:
    """What one batch means until the last year asked about.

    Attributes
    ----------
    batch
        Parts bought now.
    p_enough
        Chance that batch and stock last to the end.
    expected_unmet, expected_left
        Parts asked for in vain, and parts left at the end, on average.
    runs_out
        Years from now by which the parts have run out with chances 0.1, 0.5, 0.9; None = not by the end.
    held_years
        Part-years on the shelf until the end, on average.
    """

    batch: int
    p_enough: float
    expected_unmet: float
    expected_left: float
    runs_out: tuple[float | None, ...]
    held_years: float


@dataclass(frozen=True, slots=True)
class Ahead:
    """The demand by several ends.

    Attributes
    ----------
    years
        Ends from now, rising, years.
    masses
        Chance of each demand until then.
    at_once
        Parts of it that are taken now.
    """

    years: tuple[float, ...]
    masses: tuple[Floats, ...]
    at_once: int = 0


def demand_ahead(demand: BaseDemand, soon: dict[float, Floats], years: int) -> Ahead:
    """Return the demand until several ends, in a fleet whose cars leave and others join.

    Parameters
    ----------
    demand
        The group's installed base.
    soon
        Distributions by horizon in days; those below a year are taken.
    years
        How far ahead, 1 or more; beyond the first by whole years.

    Notes
    -----
    See `BaseDemand.renewed`. The variance counts pairs of failures at one position; presence is taken for each unit
    by itself.
    """
    mean, excess = demand.renewed(years * STEPS_A_YEAR, DAYS_PER_YEAR / STEPS_A_YEAR)
    masses = []
    for year in range(1, years + 1):
        end = year * STEPS_A_YEAR - 1
        days = np.full(mean.shape[1], year * DAYS_PER_YEAR)
        masses.append(demand.predictive.mass(Repairs(np.maximum(mean[end], LEAST), excess[end], days)))
    return _joined(soon, masses)


def demand_at_rate(until: Callable[[float], Floats], soon: dict[float, Floats], years: int) -> Ahead:
    """Return the same where only a rate is known, which stays as it is.

    Parameters
    ----------
    until
        Gives the chance of each demand within so many days.
    soon, years
        As `demand_ahead`.
    """
    return _joined(soon, [until(year * DAYS_PER_YEAR) for year in range(1, years + 1)])


def _joined(soon: dict[float, Floats], masses: list[Floats]) -> Ahead:
    early = sorted(days for days in soon if days < 0.9 * DAYS_PER_YEAR)
    ends = [*(days / DAYS_PER_YEAR for days in early), *(float(year) for year in range(1, len(masses) + 1))]
    return Ahead(tuple(ends), (*(soon[days] for days in early), *masses))


def brought_forward(ahead: Ahead, pledged: float, cars: float) -> Ahead:
    """Return the demand where owners of the cars that it is of have pledged to take parts now.

    Parameters
    ----------
    ahead
        The demand of the cars until several ends.
    pledged
        Parts pledged.
    cars
        Cars that the demand is of; 0 = nobody knows them, and every pledge comes on top.

    Notes
    -----
    A pledged part that its car would have needed by then is in the demand already; only those are added whose car would
    have needed none, exp(-m) of them where a car needs m on average. So many as are pledged are taken in any case.
    """
    parts = int(np.ceil(pledged))
    if parts <= 0:
        return ahead
    return Ahead(ahead.years, tuple(_with_pledges(mass, parts, cars) for mass in ahead.masses), parts)


def _with_pledges(mass: Floats, parts: int, cars: float) -> Floats:
    mean = float(mass @ np.arange(mass.size))
    unneeded = np.exp(-mean / cars) if cars > 0 else 1.0
    both = np.maximum(fftconvolve(mass, binom.pmf(np.arange(parts + 1), parts, unneeded)), 0.0)
    both[parts] += both[:parts].sum()
    both[:parts] = 0.0
    return np.asarray(both / both.sum())


def batches(ahead: Ahead, compared: Sequence[int], held: float, pledged: float = 0.0) -> list[Batch]:
    """Return the regret table: what each batch means, beside what is held already.

    Parameters
    ----------
    ahead
        The demand until several ends, the last one asked about.
    compared
        Batches, parts.
    held
        Parts on the shelf and on order, less those reserved.
    pledged
        Parts promised to buyers whose cars are not among those of the demand; they go at once, or stay unmet.

    Notes
    -----
    That stock is gone means that one more was wanted.
    """
    last = ahead.masses[-1]
    needed = np.arange(last.size)
    rows = []
    for batch in compared:
        enough = batch + max(held, 0.0) - pledged
        gone = np.maximum.accumulate([short_of(mass, enough) for mass in ahead.masses])
        rows.append(
            Batch(
                batch,
                1 - short_of(last, enough),
                float(last @ np.maximum(needed - enough, 0)),
                float(last @ np.maximum(enough - needed, 0)),
                tuple(when_gone(ahead.years, gone, chance) if enough >= ahead.at_once else 0.0 for chance in RUNS_OUT),
                _held_years(ahead, enough),
            )
        )
    return rows


def _held_years(ahead: Ahead, enough: float) -> float:
    """Return the part-years on the shelf until the last end, on average; stock falls in a line between the ends."""
    left = [max(enough - ahead.at_once, 0.0)]
    left += [float(mass @ np.maximum(enough - np.arange(mass.size), 0)) for mass in ahead.masses]
    return float(np.trapezoid(left, (0.0, *ahead.years)))


def when_gone(years: tuple[float, ...], gone: Floats, chance: float) -> float | None:
    """Return when a rising chance reaches a level, linear between the ends; None = not by the last.

    Parameters
    ----------
    years
        Ends, rising, years.
    gone
        Chance at each end, not falling.
    chance
        The level, 0 to 1.
    """
    reached = np.flatnonzero(gone >= chance)
    if reached.size == 0:
        return None
    at = int(reached[0])
    from_year, from_chance = (years[at - 1], float(gone[at - 1])) if at else (0.0, 0.0)
    share = (chance - from_chance) / (float(gone[at]) - from_chance)
    return from_year + share * (years[at] - from_year)
