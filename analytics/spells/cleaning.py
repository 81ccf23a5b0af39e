"""Clean odometers: settle the first contradiction of every car, and look again until none is left."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analytics.scales import KM_PER_MILE
from analytics.spells.contradiction import (
    BREAK,
    DROP,
    EARLIER_GOES,
    EXCHANGE,
    KM_BEFORE,
    KM_FROM_HERE,
    KM_ONCE,
    LASTING,
    LATER_GOES,
    MILES_FROM_HERE,
    MILES_ONCE,
    ROLL,
    Evidence,
    first_contradictions,
    remedies,
    rollover_km,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.spells.odometer import Cars, Figures

    Indices = NDArray[np.int64]

MILES, UNIT, ROLLED, EXCHANGED, UNRECORDED = 1, 2, 4, 8, 16
CONVERTED = {
    MILES: "miles to km",
    UNIT: "figure in the other unit",
    ROLLED: "odometer rolled over",
    EXCHANGED: "instrument exchanged",
    UNRECORDED: "lasting change, taken for an exchanged instrument",
}
"""What a converted figure was converted for, by mark."""

CONTRADICTED, UNCONFIRMED, JUMP, BROKEN = 1, 2, 3, 4
SET_ASIDE = {
    CONTRADICTED: "contradicted by the readings around it",
    UNCONFIRMED: "below the reading before it, and none after it bears it out",
    JUMP: "impossible jump",
    BROKEN: "after an unexplained change that no reading was near enough to bridge",
}
"""Why a figure is not on the car's clock, by verdict."""

_MARK_OF = {ROLL: ROLLED, EXCHANGE: EXCHANGED, LASTING: UNRECORDED}


def clean(figures: Figures, cars: Cars, exchanged: tuple[Indices, Indices], parameters: Parameters) -> None:
    """Judge all figures in place, until each car's kept totals rise plausibly.

    One pass settles the first contradiction of every car that still has one: the passes are as many as the
    contradictions of the worst car, never as many as readings or cars.

    Parameters
    ----------
    figures
        Sorted by car and day; their state is written.
    cars
        Digits, usual and greatest rate of each car.
    exchanged
        Car index and day (since 1970-01-01) of every recorded exchange of an instrument.
    parameters
        The named defaults of odometer cleaning, and ``carry_on_months``.

    Notes
    -----
    In order (methods, B1.5): a fall is a rollover, if the figure before stood high enough and the distance is
    plausible; a change of unit, if the ratio fits a mile; an exchanged instrument, if a record tells so; a lone
    figure that its neighbours contradict is set aside; a change that lasts is an exchange that nobody recorded.
    Over an exchange the clock is carried on at the car's usual rate, for at most ``carry_on_months``. Of a
    separate reading and a figure stated at a repair that contradict each other, the stated one goes.
    """
    figures.marks[figures.unit_km == KM_PER_MILE] |= MILES
    while True:
        found = first_contradictions(figures, cars, parameters)
        if found.at.size == 0:
            # a switch that was taken back leaves the scale, up to rounding, at 1
            figures.marks[np.abs(figures.scale - 1) > 1e-9] |= UNIT
            return
        evidence = Evidence(figures, cars, found, exchanged, parameters)
        remedy = remedies(evidence)
        # set aside first: a change of level moves the totals that the reasons are read from
        _set_aside(evidence, remedy)
        _change_level(evidence, remedy)


def _set_aside(evidence: Evidence, remedy: Indices) -> None:
    figures, found = evidence.figures, evidence.found
    rises = figures.total[found.at] > figures.total[found.before]
    later = np.select(
        [(remedy == LATER_GOES) & rises, remedy == LATER_GOES, (remedy == DROP) & rises, remedy == DROP],
        [JUMP, CONTRADICTED, JUMP, UNCONFIRMED],
    )
    figures.verdict[found.at] = later
    figures.verdict[found.before] = np.where(remedy == EARLIER_GOES, CONTRADICTED, 0)
    separate, agrees = ~figures.stated, (found.after < 0) | evidence.fits(found.at, found.after)
    figures.opposed[found.at] = separate[found.before] & (agrees | separate[found.after])
    figures.opposed[found.before] = separate[found.at]
    broken = _from_then_on(evidence, remedy == BREAK) & figures.kept
    figures.verdict[broken] = BROKEN
    figures.kept[:] = figures.verdict == 0


def _change_level(evidence: Evidence, remedy: Indices) -> None:
    """Write scale and shift of the figures that a change of unit or instrument concerns."""
    figures, at = evidence.figures, evidence.found.at
    bridge = evidence.carried_on(evidence.found.before, at) - figures.total[at]
    shift = np.select([remedy == ROLL, (remedy == EXCHANGE) | (remedy == LASTING)], [rollover_km(evidence), bridge])
    mark = np.select([remedy == code for code in _MARK_OF], list(_MARK_OF.values()))
    moved = _from_then_on(evidence, mark > 0)
    place = np.searchsorted(figures.car[at], figures.car[moved])
    figures.shift[moved] += shift[place]
    figures.marks[moved] |= mark[place]
    figures.scale[at] *= np.select(
        [remedy == MILES_ONCE, remedy == KM_ONCE], [KM_PER_MILE, 1 / KM_PER_MILE], default=1.0
    )
    figures.scale[evidence.found.before] /= np.where(remedy == KM_BEFORE, KM_PER_MILE, 1.0)
    _change_unit(evidence, remedy == MILES_FROM_HERE, KM_PER_MILE)
    _change_unit(evidence, remedy == KM_FROM_HERE, 1 / KM_PER_MILE)


def _change_unit(evidence: Evidence, which: NDArray[np.bool_], factor: float) -> None:
    """Convert the figures on the side of the change that has fewer of them: most figures tell their unit rightly."""
    figures, at = evidence.figures, evidence.found.at[which]
    later = _from_then_on(evidence, which)
    changed = np.isin(figures.car, figures.car[at])
    sides = np.bincount(
        figures.car, weights=np.where(later, -1.0, 1.0) * figures.kept, minlength=evidence.cars.limit.size
    )
    earlier_is_less = sides[figures.car] < 0
    figures.scale[later & ~earlier_is_less] *= factor
    figures.scale[changed & ~later & earlier_is_less] /= factor


def _from_then_on(evidence: Evidence, which: NDArray[np.bool_]) -> NDArray[np.bool_]:
    """Return the figures at or after the chosen contradictions of their cars."""
    figures, at = evidence.figures, evidence.found.at[which]
    start = np.full(evidence.cars.limit.size, figures.car.size, dtype=np.int64)
    start[figures.car[at]] = at
    return np.arange(figures.car.size) >= start[figures.car]
