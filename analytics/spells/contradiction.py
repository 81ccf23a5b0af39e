"""What explains a contradiction between neighbouring odometer figures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import DAYS_PER_YEAR, KM_PER_MILE
from analytics.spells.odometer import Cars, Figures, follows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Indices = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Km = NDArray[np.float64]

(
    ROLL,
    MILES_FROM_HERE,
    KM_FROM_HERE,
    MILES_ONCE,
    KM_ONCE,
    KM_BEFORE,
    EXCHANGE,
    EARLIER_GOES,
    LATER_GOES,
    LASTING,
    BREAK,
    DROP,
) = range(1, 13)
"""Remedies, in the order in which they are tried.

`MILES_FROM_HERE` = this and the later figures are miles said to be km, `KM_BEFORE` = the figure before alone is the
other way round.
"""


@dataclass(frozen=True, slots=True)
class Contradictions:
    """The first contradiction of each car: one figure cannot follow the figure before it.

    Arrays hold indices into `Figures`, -1 where the car has no such kept figure.
    """

    first: Indices
    before: Indices
    at: Indices
    after: Indices
    beyond: Indices


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything a contradiction is judged on."""

    figures: Figures
    cars: Cars
    found: Contradictions
    exchanged: tuple[Indices, Indices]
    parameters: Parameters

    def fits(self, earlier: Indices, later: Indices) -> Flags:
        """Return whether both figures exist and the later one can follow the earlier."""
        total = self.figures.total
        return (earlier >= 0) & (later >= 0) & self.can_follow(earlier, later, total[earlier], total[later])

    def can_follow(self, earlier: Indices, later: Indices, from_km: Km, to_km: Km) -> Flags:
        """Return whether the later figure could read `to_km` when the earlier reads `from_km`."""
        days = self.figures.day[later] - self.figures.day[earlier]
        limit = self.cars.limit[self.figures.car[self.found.at]]
        return follows(from_km, to_km, days, limit, self.parameters.jump_grace_days)

    def carried_on(self, earlier: Indices, later: Indices) -> Km:
        """Return the total expected at the later figure: the earlier one carried on at the car's usual rate."""
        figures = self.figures
        days = figures.day[later] - figures.day[earlier]
        return figures.total[earlier] + self.cars.rate[figures.car[self.found.at]] * days


def first_contradictions(figures: Figures, cars: Cars, parameters: Parameters) -> Contradictions:
    """Return for every car the first kept figure that cannot follow the kept figure before it."""
    kept = np.flatnonzero(figures.kept)
    car, day, total = figures.car[kept], figures.day[kept], figures.total[kept]
    pairs = follows(total[:-1], total[1:], np.diff(day), cars.limit[car[1:]], parameters.jump_grace_days)
    wrong = 1 + np.flatnonzero((car[1:] == car[:-1]) & ~pairs)
    _, earliest = np.unique(car[wrong], return_index=True)
    at = wrong[earliest]

    def neighbour(offset: int) -> Indices:
        place = np.clip(at + offset, 0, max(kept.size - 1, 0))
        inside = (at + offset == place) & (car[place] == car[at])
        return np.where(inside, kept[place], -1)

    return Contradictions(neighbour(-2), neighbour(-1), kept[at], neighbour(1), neighbour(2))


def remedies(evidence: Evidence) -> Indices:
    """Return the remedy of each contradiction (methods, B1.5)."""
    figures, found = evidence.figures, evidence.found
    falls = figures.total[found.at] < figures.total[found.before]
    borne_out = evidence.fits(found.at, found.after)
    # two wrong figures in a row bear each other out, until the next one is back on the old course
    returns = _returns(evidence, found.after, found.beyond)
    passing = _returns(evidence, found.at, found.after) | returns
    later_goes, earlier_goes = _lone(evidence, borne_out)
    lasts = (borne_out | (found.after < 0)) & ~passing & ~(falls & earlier_goes & (found.first >= 0))
    days = figures.day[found.at] - figures.day[found.before]
    bridged = days <= evidence.parameters.carry_on_months * DAYS_PER_YEAR / 12
    in_miles = falls & _in_other_unit(evidence, KM_PER_MILE)
    in_km = ~falls & _in_other_unit(evidence, 1 / KM_PER_MILE)
    choices = {
        ROLL: falls & lasts & _rolled_over(evidence),
        MILES_FROM_HERE: in_miles & lasts,
        KM_FROM_HERE: in_km & lasts,
        MILES_ONCE: in_miles & later_goes,
        KM_ONCE: in_km & later_goes,
        KM_BEFORE: falls & earlier_goes & _between_in_other_unit(evidence),
        EXCHANGE: lasts & bridged & _exchange_recorded(evidence),
        EARLIER_GOES: earlier_goes,
        LATER_GOES: later_goes | returns,
        LASTING: borne_out & bridged,
        BREAK: borne_out,
    }
    return np.select(list(choices.values()), list(choices), default=DROP)


def _returns(evidence: Evidence, off: Indices, later: Indices) -> Flags:
    """Return where a later figure lies on the course of the figure before, and further from that of the one off it."""
    total, before = evidence.figures.total[later], evidence.found.before
    old = np.abs(total - evidence.carried_on(before, later))
    new = np.abs(total - evidence.carried_on(off, later))
    return evidence.fits(before, later) & (old < new)


def rollover_km(evidence: Evidence) -> Km:
    """Return the km of one turn of the instrument, 0 where it cannot have turned over.

    Without known digits the smallest range that could show the figure before, five digits at least, is taken.
    """
    figures, before = evidence.figures, evidence.found.before
    digits = evidence.cars.digits[figures.car[evidence.found.at]]
    shown = figures.shown[before]
    turn = np.where(digits > 0, 10.0**digits, np.where(shown < 1e5, 1e5, 1e6))
    possible = (shown < turn) & (shown >= evidence.parameters.rollover_share * turn)
    return np.where(possible, turn * figures.unit_km[before] * figures.scale[before], 0.0)


def _rolled_over(evidence: Evidence) -> Flags:
    figures, at, before = evidence.figures, evidence.found.at, evidence.found.before
    turn = rollover_km(evidence)
    return (turn > 0) & evidence.can_follow(before, at, figures.total[before], figures.total[at] + turn)


def _in_other_unit(evidence: Evidence, factor: float) -> Flags:
    figures, at, before = evidence.figures, evidence.found.at, evidence.found.before
    read_so = (figures.total[at] - figures.shift[at]) * factor + figures.shift[at]
    tolerance = evidence.parameters.unit_switch_tolerance
    levels = (figures.total[before], evidence.carried_on(before, at))
    near: Flags = np.any([np.abs(read_so - level) <= tolerance * level for level in levels], axis=0)
    return near & evidence.can_follow(before, at, figures.total[before], read_so)


def _between_in_other_unit(evidence: Evidence) -> Flags:
    """Return where the earlier figure, read as km said to be miles, lies between its neighbours."""
    figures, found = evidence.figures, evidence.found
    before = found.before
    read_so = (figures.total[before] - figures.shift[before]) / KM_PER_MILE + figures.shift[before]
    after_first = evidence.can_follow(found.first, before, figures.total[found.first], read_so)
    return (found.first >= 0) & after_first & evidence.can_follow(before, found.at, read_so, figures.total[found.at])


def _exchange_recorded(evidence: Evidence) -> Flags:
    """Return whether an instrument was exchanged between the two figures, or on the day of either."""
    figures, found = evidence.figures, evidence.found
    cars, days = evidence.exchanged
    span = int(max(figures.day.max(initial=0), days.max(initial=0))) + 2
    keys = np.sort(cars * span + days)
    car = figures.car[found.at] * span
    return np.searchsorted(keys, car + figures.day[found.at], side="right") > np.searchsorted(
        keys, car + figures.day[found.before], side="left"
    )


def _lone(evidence: Evidence, borne_out: Flags) -> tuple[Flags, Flags]:
    """Return where the later, and where the earlier, of the two figures stands alone against its neighbours."""
    figures, found = evidence.figures, evidence.found
    alone, followed = found.first < 0, found.after >= 0
    later = evidence.fits(found.before, found.after)
    # a first figure has nothing before it: two that agree outvote it
    earlier = np.where(alone, borne_out & ~later, evidence.fits(found.first, found.at))
    # without a figure after it, the later one competes on how well each carries on the figure before both
    contested = later | (~followed & ~alone)
    carried = (evidence.carried_on(found.first, found.at), evidence.carried_on(found.first, found.before))
    off_later = np.where(
        followed, _off_line(figures, found.before, found.at, found.after), np.abs(figures.total[found.at] - carried[0])
    )
    off_earlier = np.where(
        followed,
        _off_line(figures, found.first, found.before, found.at),
        np.abs(figures.total[found.before] - carried[1]),
    )
    stated_later, stated_earlier = figures.stated[found.at], figures.stated[found.before]
    keep_later = np.where(stated_later == stated_earlier, off_later < off_earlier, stated_earlier)
    return later & ~(earlier & keep_later), earlier & (keep_later | ~contested)


def _off_line(figures: Figures, left: Indices, middle: Indices, right: Indices) -> Km:
    """Return how far a figure lies off the straight line between its neighbours, in km."""
    days = figures.day[right] - figures.day[left]
    share = (figures.day[middle] - figures.day[left]) / np.where(days == 0, 1, days)
    total = figures.total
    return np.abs(total[middle] - total[left] - share * (total[right] - total[left]))
