"""The lines of repair orders: what was said, found, done and fitted, in the words of the trade."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sample_data.catalogue import components, symptoms
from sample_data.parts import fitting, part_of_year, parts
from sample_data.places import place_weights

if TYPE_CHECKING:
    from sample_data.dice import Dice
    from sample_data.fleet import Car, Period
    from sample_data.units import Unit

RENEWING = ("replaced", "exchanged", "overhauled")
FAILED = ("failure", "found", "return", "induced", "coil", "brought")
"""Kinds of lines that tell of a fault of a unit."""
OVERHAUL_SHARE = 0.6
MINIMAL_SHARE = 0.06
OTHER_ACTION_SHARE = 0.10
OTHER_ACTION = {
    "replaced": "replaced",
    "exchanged": "overhauled",
    "overhauled": "replaced",
    "resealed": "exchanged",
    "cleaned": "replaced",
}
ALWAYS_RENEWED = ("vpump", "vcheck", "wmot", "carb", "coil", "accumulator", "vact")
SECOND_HAND = ("rad", "alt", "start", "lpump", "vres", "vsel", "wiper", "hfan")
REMOVED_SHARE = 0.25
INSTEAD_SHARE = 0.12
HOURLY_RATE = 78
USED_WEIGHT = 0.12
SHELF_ORIGINS = {"new": 0.78, "reproduction": 0.10, "owner-supplied": 0.04, "unknown": 0.03, "": 0.05}
WORKSHOP_ORIGINS = {"overhauled": 0.60, "new": 0.28, "unknown": 0.04, "": 0.08}


@dataclass(slots=True)
class Line:
    """One line of an order, as the shop wrote it, and what the generator knows about it.

    Attributes
    ----------
    kind
        What the line stands for in truth; never written to the feed.
    code
        Component code; empty where the line names no component.
    true_position
        Position of the unit, also where `position` is left empty.
    """

    kind: str
    code: str = ""
    true_position: str = ""
    position: str = ""
    location: str = ""
    symptom: str = ""
    came_for: str = ""
    finding: str = ""
    cause: str = ""
    action: str = ""
    reason: str = ""
    part_no: str = ""
    removed_part_no: str = ""
    part_origin: str = ""
    fitted_instead_of: str = ""
    quantity: str = ""
    labour_minutes: int = 0
    cost: int = 0
    measured: str = ""
    measured_unit: str = ""
    note: str = ""


@dataclass(slots=True)
class Order:
    """One repair order of one car; days are proleptic ordinals."""

    car: Car
    opened: int
    closed: int
    lines: list[Line] = field(default_factory=list)


class Bench:
    """Writes the lines of one car's orders.

    Parameters
    ----------
    dice
        Chance of this car.
    car
        The car.
    period
        The archive, for the part numbers of the year.
    """

    __slots__ = ("_car", "_dice", "_period")

    def __init__(self, dice: Dice, car: Car, period: Period) -> None:
        self._dice, self._car, self._period = dice, car, period

    def action(self, code: str) -> str:
        """Return what is done about a fault of a component."""
        usual = components()[code].action
        if code == "wmot":
            return "overhauled" if self._dice.chance(OVERHAUL_SHARE) else "exchanged"
        roll = self._dice.uniform()
        if roll < MINIMAL_SHARE and code not in ALWAYS_RENEWED:
            return self._dice.pick(("repaired", "repaired", "adjusted"))
        if roll < MINIMAL_SHARE + OTHER_ACTION_SHARE:
            return OTHER_ACTION[usual]
        return usual

    def place(self, code: str, position: str) -> str:
        """Return where on the car the fault showed."""
        places, weights = place_weights(self._car.series)[code, position]
        return self._dice.weighted(places, weights)

    def fault(self, kind: str, code: str, position: str, *, complained: bool) -> Line:
        """Return a line about a fault, before it is said what was done."""
        words = symptoms()[code]
        wording = self._dice.weighted(words.complaints, words.weights) if complained else self._dice.pick(words.silent)
        return Line(
            kind,
            code,
            position,
            position,
            location=self.place(code, position),
            symptom=wording.wording if complained else "",
            finding=wording.finding,
            cause="" if wording.cause == "-" else wording.cause,
            reason="failure" if complained else "found at inspection",
        )

    def plain(self, kind: str, code: str, position: str, reason: str) -> Line:
        """Return a line without a fault: planned, in passing, accident."""
        return Line(kind, code, position, position, reason=reason)

    def renewal(self, line: Line, action: str, old: Unit, opened: int) -> str:
        """Write what was fitted instead of the old unit; return the part number truly fitted."""
        line.action = action
        if action == "cleaned":
            return old.part_no
        found = fitting(line.code, line.true_position, self._car.series, self._car.serial)
        part_no = part_of_year(found, (opened - self._period.first) / 365.25, self._dice.uniform())
        if old.part_no and self._dice.chance(REMOVED_SHARE):
            line.removed_part_no = old.part_no
        line.part_no, line.part_origin = part_no, self._origin(line.code, action)
        if part_no and line.part_origin in {"used", "reproduction"} and self._dice.chance(INSTEAD_SHARE):
            line.part_no, line.fitted_instead_of, part_no = "", part_no, ""
        self._count(line)
        return part_no

    def _origin(self, code: str, action: str) -> str:
        if action not in RENEWING:
            return ""
        used = USED_WEIGHT if code in SECOND_HAND else 0.0
        weights = WORKSHOP_ORIGINS if action in {"exchanged", "overhauled"} else SHELF_ORIGINS
        return self._dice.weighted((*weights, "used"), (*weights.values(), used))

    def _count(self, line: Line) -> None:
        part = parts().get(line.part_no)
        if part and part.unit == "metre":
            line.quantity = str(self._dice.whole(1, 3))
        elif part:
            line.quantity = "" if self._dice.chance(0.12) else "1"

    def work(self, line: Line, share: float = 1.0) -> Line:
        """Write minutes and cost, `share` of the usual work, and return the line."""
        if not line.code:
            return line
        facts = components()[line.code]
        line.labour_minutes = max(5, 5 * round(facts.labour_minutes * share * self._dice.lognormal(1.0, 0.25) / 5))
        line.cost = round(line.labour_minutes * HOURLY_RATE / 60)
        if line.action in RENEWING and line.part_origin != "owner-supplied":
            price = parts()[line.part_no].unit_cost if line.part_no else facts.part_cost
            line.cost += round(1.25 * price * int(line.quantity or 1))
        return line


def renews(line: Line) -> bool:
    """Return whether the action of a line renews the unit."""
    return (
        line.action in RENEWING or line.action in components()[line.code].renewed_by.split(";") if line.code else False
    )
