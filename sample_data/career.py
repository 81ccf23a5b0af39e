"""One car's years in care: its units fail in time order, and every visit leaves an order behind."""

from __future__ import annotations

import heapq
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sample_data.catalogue import Component, components
from sample_data.lines import Bench, Line, Order, renews
from sample_data.lives import NEVER
from sample_data.planted import FOUND_ANYWAY, burst, follow_up, tell_harm
from sample_data.units import Lives, Unit

if TYPE_CHECKING:
    from collections.abc import Callable

    from sample_data.dice import Dice, Quota
    from sample_data.fleet import Car, Period
    from sample_data.lives import Travel

LEFT_SHARE = 0.15
"""Share of hidden faults, once found, that are left in place for the time being."""
LONG_STAY_SHARE = 0.01
PAIR_LINE_SHARE = 0.1
PAIR_LINES = ("wcyl", "cal", "bhose")
CONSEQUENCES = {
    "wpump": ("hose", "top", 0.12),
    "rad": ("tstat", "engine front", 0.1),
    "clutch": ("slave", "bellhousing", 0.15),
}
Slot = tuple[str, str]


@dataclass(frozen=True, slots=True)
class Failure:
    """One fault that truly happened while its car was in care, of a unit of part number `part_no`."""

    car: Car
    code: str
    position: str
    part_no: str
    day: int
    kind: str


@dataclass(frozen=True, slots=True)
class Shop:
    """What all careers share: the archive, the planted shares and the list of true failures."""

    period: Period
    quotas: dict[str, Quota]
    failures: list[Failure]


class Career:
    """The state of one car while its years in care are played through.

    Attributes
    ----------
    car, travel, shop, dice, bench
        The car, its road, the shared shop, its own chance, the writer of its lines.
    units, at_joining
        Unit at each position, by component code and position: now, and on the day it joined.
    orders, readings
        What the shop wrote: orders closed by the end, and days of readings without an order with their source.
    gone, induced
        Whether it will not be seen again; whether its one-way valve has been made to fail.
    """

    def __init__(self, car: Car, travel: Travel, shop: Shop, dice: Dice) -> None:
        self.car, self.travel, self.shop, self.dice = car, travel, shop, dice
        self.bench = Bench(dice, car, shop.period)
        self.lives = Lives(dice, car, travel)
        self.orders: list[Order] = []
        self.readings: list[tuple[int, str]] = []
        self.gone = False
        self.induced = False
        self._agenda: list[tuple[int, int, Callable[[int], None]]] = []
        self._booked = 0
        self.units: dict[Slot, Unit] = {}
        for part in self.parts_of_car():
            for position in part.positions:
                self._place(part.code, position, self.lives.at_joining(part.code, position))
        self.at_joining = dict(self.units)

    def parts_of_car(self) -> list[Component]:
        """Return the components this car has."""
        return [part for part in components().values() if self.car.series in part.series]

    def book(self, day: int, event: Callable[[int], None]) -> None:
        """Put an event on the agenda."""
        if day <= self.shop.period.last:
            self._booked += 1
            heapq.heappush(self._agenda, (day, self._booked, event))

    def play(self) -> None:
        """Let everything happen in the order of time, until the car leaves or the archive ends."""
        while self._agenda and not self.gone:
            day, _, event = heapq.heappop(self._agenda)
            if day >= self.car.leaves and not self.car.vanishes:
                break
            event(day)
        self.orders = [order for order in self.orders if order.lines and order.closed <= self.shop.period.last]

    def order(self, day: int, *, stay: int | None = None) -> tuple[Order, bool]:
        """Return the order open on a day, a new one if none is, and whether it is new."""
        if self.orders and day <= self.orders[-1].closed:
            return self.orders[-1], False
        if stay is None:
            stay = min(45, round(self.dice.lognormal(4.0, 0.8)))
            if self.dice.chance(LONG_STAY_SHARE):
                stay = self.dice.whole(95, 160)
        self.orders.append(Order(self.car, day, day + stay))
        return self.orders[-1], True

    def _place(self, code: str, position: str, unit: Unit) -> None:
        self.units[code, position] = unit
        if unit.fails_on < NEVER:
            self.book(unit.fails_on, lambda day: self._fails(code, position, unit, day))

    def _fails(self, code: str, position: str, unit: Unit, day: int) -> None:
        if self.units[code, position] is not unit or unit.hidden or unit.left or unit.fails_on != day:
            return
        self.fail(code, position, day, unit.fate or "failure")

    def fail(self, code: str, position: str, day: int, kind: str) -> None:
        """Let the unit at a position fail on a day: noticed at once, or hidden until someone looks."""
        silent = kind == "failure" and self.car.regime != "breakdown only"
        if self.car.vanishes and day >= self.car.leaves:
            self.gone = True
        part_no = self.units[code, position].part_no
        self.shop.failures.append(Failure(self.car, code, position, part_no, day, kind))
        if silent and self.dice.chance(components()[code].silent_share):
            self.units[code, position].hidden = True
            return
        order, new = self.order(day, stay=None if kind == "failure" else self.dice.whole(1, 6))
        line = self.bench.fault(kind, code, position, complained=True)
        line.came_for = "yes" if new else "no"
        tell_harm(self, line)
        self.answer(order, line, self.bench.action(code))
        burst(order, line)
        if new:
            self.look_around(order, FOUND_ANYWAY)

    def answer(self, order: Order, line: Line, action: str) -> None:
        """Write a line about a fault and do the work: renew the unit, or let it live on."""
        slot = line.code, line.true_position
        order.lines.append(line)
        line.action = action
        if not renews(line):
            self.bench.work(line, 0.5)
            self.units[slot].hidden = False
            self.lives.carry_on(line.code, self.units[slot], order.closed)
            self._place(*slot, self.units[slot])
            return
        self.renew(order, line, action)
        self._mates(order, line)
        self._consequence(order, line)

    def renew(self, order: Order, line: Line, action: str) -> Unit:
        """Fit a new unit at the position of a line when the order is closed."""
        slot = line.code, line.true_position
        part_no = self.bench.renewal(line, action, self.units[slot], order.opened)
        fit = self.lives.used if line.part_origin == "used" else self.lives.fresh
        unit = fit(line.code, part_no, order.closed)
        self.bench.work(line)
        follow_up(self, order, line, unit)
        self._place(*slot, unit)
        return unit

    def fresh_here(self, order: Order, slot: Slot) -> bool:
        """Return whether the unit at a position was fitted by this very order."""
        return self.units[slot].fitted >= order.opened

    def _mates(self, order: Order, line: Line) -> None:
        """Renew sister positions in passing."""
        facts = components()[line.code]
        if not facts.mate_share or not self.dice.chance(facts.mate_share):
            return
        others = [p for p in facts.positions if p != line.true_position and not self.fresh_here(order, (line.code, p))]
        for position in others[:1] if line.code != "vact" else others:
            self._mate(order, line, position)

    def _mate(self, order: Order, line: Line, position: str) -> None:
        old = self.units[line.code, position]
        if line.code in PAIR_LINES and not (old.hidden or old.left) and self.dice.chance(PAIR_LINE_SHARE):
            # one line for the pair, without a position: the reader must work out that two were renewed
            line.position, line.quantity = "", "2"
            self._place(line.code, position, self.lives.fresh(line.code, line.part_no, order.closed))
            return
        mate = self.bench.plain("mate", line.code, position, "changed in passing")
        if old.hidden or old.left:
            mate = self.bench.fault("found", line.code, position, complained=False)
        mate.came_for = "no"
        order.lines.append(mate)
        self.renew(order, mate, line.action)
        if mate.part_no == "SL-9101":  # the pair is on the first line already
            mate.part_no, mate.quantity, mate.part_origin = "", "", ""

    def _consequence(self, order: Order, line: Line) -> None:
        code, position, share = CONSEQUENCES.get(line.code, ("", "", 0.0))
        if code and self.dice.chance(share) and not self.fresh_here(order, (code, position)):
            other = self.bench.fault("consequence", code, position, complained=False)
            other.reason, other.came_for, other.cause = "consequence", "no", "damaged by the first fault"
            order.lines.append(other)
            self.renew(order, other, components()[code].action)

    def look_around(self, order: Order, share: float) -> None:
        """Find hidden faults while the car is in."""
        for (code, position), unit in list(self.units.items()):
            if unit.hidden and self.dice.chance(share):
                self._find(order, code, position, unit)

    def _find(self, order: Order, code: str, position: str, unit: Unit) -> None:
        line = self.bench.fault("found", code, position, complained=False)
        line.came_for = "no"
        facts = components()[code]
        if facts.safety_critical or not self.dice.chance(LEFT_SHARE):
            action = self.bench.action(code)
            self.answer(order, line, facts.action if facts.safety_critical else action)
            return
        line.action = self.dice.pick(("inspected", "none"))
        order.lines.append(line)
        unit.hidden, unit.left = False, True
        self.book(order.closed + self.dice.whole(20, 220), lambda day: self._mend_left(code, position, unit, day))

    def _mend_left(self, code: str, position: str, unit: Unit, day: int) -> None:
        if self.units[code, position] is not unit or self.car.vanishes:
            return
        order, new = self.order(day)
        line = self.bench.fault("mended", code, position, complained=False)
        line.came_for = "yes" if new else "no"
        order.lines.append(line)
        self.renew(order, line, components()[code].action)
        if new:
            self.look_around(order, FOUND_ANYWAY)
