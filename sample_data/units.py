"""The unit at each position of a car: drawn lives, and the renewals since the car was built."""

from __future__ import annotations

import math
from dataclasses import dataclass
from statistics import NormalDist
from typing import TYPE_CHECKING

from sample_data.lives import NEVER, Law, Travel, failure_day
from sample_data.parts import factory_part, law_of

if TYPE_CHECKING:
    from sample_data.dice import Dice
    from sample_data.fleet import Car

NEVER_FAILS = ("trig", "coil")
"""Components whose lives the scenario overrides: no failure, but for the one planted failure of a coil."""
SHARED_AGEING = ("tstat", "fansw")
"""The decoy pair: the k-th thermostat and the k-th fan switch of a car live alike, neither harms the other."""
SHARED_PART = 0.6
_NORMAL = NormalDist()


@dataclass(slots=True)
class Unit:
    """One fitted unit.

    Attributes
    ----------
    part_no
        Its part number, empty if the catalogue has none.
    fitted
        Day it was fitted.
    multiple
        Life drawn for it, in medians of its law.
    fails_on
        Day it fails; NEVER if not before the end of the archive.
    hidden, left
        Failed without anyone noticing yet; found failed and left in place.
    fate
        Why it fails early, where that is planted (``return``); empty otherwise.
    """

    part_no: str
    fitted: int
    multiple: float
    fails_on: int
    hidden: bool = False
    left: bool = False
    fate: str = ""


class Lives:
    """Draws the lives of one car's units, along the road it travelled."""

    __slots__ = ("_car", "_counts", "_dice", "_shared", "_travel")

    def __init__(self, dice: Dice, car: Car, travel: Travel) -> None:
        self._dice, self._car, self._travel = dice, car, travel
        self._shared: list[float] = []
        self._counts = dict.fromkeys(SHARED_AGEING, 0)

    def _uniform(self, code: str) -> float:
        if code not in SHARED_AGEING:
            return self._dice.uniform()
        count = self._counts[code]
        self._counts[code] += 1
        while len(self._shared) <= count:
            self._shared.append(self._dice.normal())
        own = math.sqrt(1.0 - SHARED_PART) * self._dice.normal()
        return _NORMAL.cdf(math.sqrt(SHARED_PART) * self._shared[count] + own)

    def _ends(self, law: Law | None, code: str, fitted: int, multiple: float) -> int:
        if law is None or code in NEVER_FAILS:
            return NEVER
        return failure_day(law, self._travel, fitted, multiple)

    def fresh(self, code: str, part_no: str, fitted: int) -> Unit:
        """Return a new unit fitted on that day."""
        law = law_of(code, part_no)
        multiple = law.multiple(self._uniform(code)) if law else 1.0
        return Unit(part_no, fitted, multiple, self._ends(law, code, fitted, multiple))

    def used(self, code: str, part_no: str, fitted: int) -> Unit:
        """Return a second-hand unit: it has lasted up to a median life elsewhere and lives the rest here."""
        law = law_of(code, part_no)
        if law is None:
            return self.fresh(code, part_no, fitted)
        worn = self._dice.uniform()
        left = law.longer(worn, self._dice.exponential()) - worn
        return Unit(part_no, fitted, left, self._ends(law, code, fitted, left))

    def carry_on(self, code: str, unit: Unit, today: int) -> None:
        """Let a unit live on after a repair that did not renew it: as good as just before the failure."""
        law = law_of(code, unit.part_no)
        if law is None:
            return
        unit.multiple = law.longer(unit.multiple, self._dice.exponential())
        unit.fails_on = max(self._ends(law, code, unit.fitted, unit.multiple), today + 1)

    def at_joining(self, code: str, position: str) -> Unit:
        """Return the unit found at a position on the day of joining, after the renewals since the car was built."""
        car = self._car
        part_no = factory_part(code, position, car.series, car.serial)
        unit = self.fresh(code, part_no, car.built)
        while unit.fails_on < car.joined:
            unit = self.fresh(code, part_no, unit.fails_on)
        return unit
