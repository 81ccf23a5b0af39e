"""Why a car comes in when nothing has failed: services, joining, other visits, accidents, the campaign."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sample_data.catalogue import Component, components
from sample_data.lines import Line
from sample_data.lives import DAYS_PER_YEAR
from sample_data.places import points, typical_rate
from sample_data.planted import FOUND_ANYWAY, no_fault_line
from sample_data.units import NEVER_FAILS

if TYPE_CHECKING:
    from sample_data.career import Career, Slot
    from sample_data.lines import Order
    from sample_data.roads import Instrument

SERVICE_SHARE = {"yearly": 0.85, "mixed": 0.30, "breakdown only": 0.0}
OTHER_PER_YEAR = {"yearly": 0.40, "mixed": 0.25, "breakdown only": 0.12}
OTHER_KINDS = {"reading": 0.40, "no fault": 0.25, "small work": 0.27, "accident": 0.08}
EXPLICIT_CHECKS = ("ram", "vline", "wbear", "coup")
EXPLICIT_SHARE, SEEN_LINES, OIL_SHARE, PLANNED_SHARE = 0.5, 1, 0.3, 0.25
ANNUAL_RETURN_SHARE = 0.3
CAMPAIGN_YEARS = (8.0, 6.0)
CAMPAIGN_CODE = "accumulator"
COIL_YEAR = 5.5
MEASURED = {"bat": ("V", 12.2, 12.9), "accumulator": ("bar", 24.0, 36.0)}
BODY_PER_SERVICE = 0.06
ACCIDENT_SIDES = (("front left", "wbear"), ("front right", "wbear"), ("front left", "cal"), ("left", "rack"))


def book_years(career: Career, *, brings_fault: bool) -> None:
    """Put all visits that do not follow from a failure on the agenda of a car."""
    car, dice = career.car, career.dice
    if not car.from_start and car.regime != "breakdown only":
        career.book(car.joined, lambda day: _join(career, day, brings_fault=brings_fault))
    end = min(car.leaves - 1, career.shop.period.last)
    first_service = car.joined + (0 if car.from_start else 75)
    for year in range(date.fromordinal(car.joined).year, date.fromordinal(end).year + 1):
        low, high = (date(year, 3, 1), date(year, 5, 31)) if car.lay_up else (date(year, 1, 8), date(year, 12, 12))
        day = dice.whole(low.toordinal(), high.toordinal())
        if dice.chance(SERVICE_SHARE[car.regime]) and first_service <= day <= end:
            career.book(day, lambda today: service(career, today))
    _book_others(career, end)
    _book_campaign(career, end)
    if car.fails_coil:
        career.book(career.shop.period.day(COIL_YEAR), lambda day: career.fail("coil", "bay left", day, "coil"))


def _book_others(career: Career, end: int) -> None:
    car, dice = career.car, career.dice
    mean = DAYS_PER_YEAR / OTHER_PER_YEAR[car.regime]
    handlers = {"no fault": _no_fault, "small work": _small_work, "accident": _accident}
    day = car.joined + 20 + round(dice.exponential(mean))
    while day <= end:
        kind = dice.weighted(list(OTHER_KINDS), list(OTHER_KINDS.values()))
        if kind == "reading":
            career.readings.append((day, dice.weighted(("visit", "inspection", ""), (0.5, 0.4, 0.1))))
        else:
            career.book(day, lambda today, handler=handlers[kind]: handler(career, today))  # type: ignore[misc]
        day += 1 + round(dice.exponential(mean))
    if dice.chance(ANNUAL_RETURN_SHARE):
        years = range(date.fromordinal(car.joined).year, date.fromordinal(end).year + 1)
        days = [date(year, 12, dice.whole(20, 31)).toordinal() for year in years]
        career.readings += [(day, "annual return") for day in days if car.joined < day <= end]


def _book_campaign(career: Career, end: int) -> None:
    car, period = career.car, career.shop.period
    if (CAMPAIGN_CODE, "rear left") not in career.units:
        return
    low, high = (period.day(period.years - years) for years in CAMPAIGN_YEARS)
    day = career.dice.whole(max(low, car.joined + 30), max(high, car.joined + 31))
    if day <= min(high, end) and not car.vanishes:
        career.book(day, lambda today: _campaign(career, today))


def service(career: Career, day: int) -> None:
    """Look the car over: checks found good, hidden faults found, now and then something renewed as planned."""
    order, new = career.order(day)
    first = len(order.lines)
    career.look_around(order, 1.0)
    _checks(career, order)
    if career.dice.chance(PLANNED_SHARE):
        _renew_planned(career, order, _wearing_slot(career))
    if career.dice.chance(BODY_PER_SERVICE):
        order.lines.append(_body_line(career))
    planned = [line for line in order.lines[first:] if line.reason == "planned"]
    if not planned or career.dice.chance(OIL_SHARE):
        planned = [Line("service", action="inspected", reason="planned", finding="oil and filters renewed")]
        planned[0].labour_minutes, planned[0].cost = 60, 142
        order.lines.append(planned[0])
    for line in order.lines[first:]:
        line.came_for = "yes" if new and line is planned[0] else "no"


def _checks(career: Career, order: Order) -> None:
    parts = {part.code: part for part in career.parts_of_car()}
    wanted = [parts[code] for code in EXPLICIT_CHECKS if code in parts and career.dice.chance(EXPLICIT_SHARE)]
    seen = [part for part in parts.values() if part.seen_at_service or part.code == CAMPAIGN_CODE]
    wanted += career.dice.shuffled(seen)[:SEEN_LINES]
    for part in wanted:
        good = all(not (career.units[part.code, p].hidden or career.units[part.code, p].left) for p in part.positions)
        if good and all(line.code != part.code for line in order.lines):
            order.lines.append(_check(career, part))


def _check(career: Career, part: Component) -> Line:
    position = part.positions[0] if len(part.positions) == 1 else ""
    line = Line("check", part.code, position, position, action="inspected", reason="planned")
    line.finding = "good" if career.dice.chance(0.8) else ""
    line.labour_minutes, line.cost = part.check_minutes, round(part.check_minutes * 1.3)
    if part.code in MEASURED:
        unit, low, high = MEASURED[part.code]
        line.measured, line.measured_unit = f"{career.dice.uniform(low, high):.1f}", unit
    return line


def _wearing_slot(career: Career) -> Slot:
    slots = [slot for slot, unit in career.units.items() if not (unit.hidden or unit.left)]
    return career.dice.weighted(slots, [typical_rate(code) for code, _ in slots])


def _renew_planned(career: Career, order: Order, slot: Slot) -> None:
    if career.fresh_here(order, slot) or slot[0] == "speedo":
        return
    line = career.bench.plain("planned", *slot, "planned")
    order.lines.append(line)
    career.renew(order, line, components()[slot[0]].action if slot[0] != "wmot" else "exchanged")


def _body_line(career: Career) -> Line:
    """Return rust found on the body: a place, but none of the components."""
    line = Line("body", location=career.dice.pick(points()), reason="found at inspection", came_for="no")
    line.finding, line.cause, line.action = "through corrosion", "moisture trap", "repaired"
    line.labour_minutes, line.cost = 180, 260
    return line


def _join(career: Career, day: int, *, brings_fault: bool) -> None:
    service(career, day)
    if not brings_fault:
        return
    later = career.dice.chance(0.3)
    when = career.orders[-1].closed + career.dice.whole(1, 20) if later else day
    career.book(when, lambda today: _brought(career, today))


def _brought(career: Career, day: int) -> None:
    """Find the fault the car had when it came: it failed before, nobody knows when."""
    slots = [slot for slot in career.units if slot[0] not in {*NEVER_FAILS, "speedo", "vpump", "wmot"}]
    slots = [slot for slot in slots if career.units[slot] is career.at_joining[slot]]
    slot = career.dice.weighted(slots, [typical_rate(code) for code, _ in slots])
    order, new = career.order(day)
    line = career.bench.fault("brought", *slot, complained=True)
    line.came_for = "yes" if new or not order.lines else "no"
    career.answer(order, line, components()[slot[0]].action)


def _no_fault(career: Career, day: int) -> None:
    slot = _wearing_slot(career)
    order, new = career.order(day, stay=0)
    line = no_fault_line(career, *slot)
    line.came_for = "yes" if new else "no"
    order.lines.append(line)
    career.look_around(order, FOUND_ANYWAY)


def _small_work(career: Career, day: int) -> None:
    order, new = career.order(day, stay=1)
    finding = career.dice.pick(
        ("wheels balanced", "headlamps set", "washed and waxed", "tyres changed", "carpet fitted")
    )
    order.lines.append(
        Line("small work", finding=finding, action="adjusted", reason="planned", came_for="yes" if new else "no")
    )
    order.lines[-1].labour_minutes, order.lines[-1].cost = 40, 52
    career.look_around(order, FOUND_ANYWAY)


def _accident(career: Career, day: int) -> None:
    order, new = career.order(day)
    for position, code in ACCIDENT_SIDES[: career.dice.whole(1, 2)]:
        if career.fresh_here(order, (code, position)):
            continue
        line = career.bench.plain("accident", code, position, "accident")
        line.symptom, line.came_for = "hit the kerb", "yes" if new else "no"
        order.lines.append(line)
        career.renew(order, line, components()[code].action)
    career.look_around(order, FOUND_ANYWAY)


def _campaign(career: Career, day: int) -> None:
    order, new = career.order(day, stay=1)
    for position in components()[CAMPAIGN_CODE].positions:
        slot = CAMPAIGN_CODE, position
        if career.fresh_here(order, slot):
            continue
        line = career.bench.plain("campaign", *slot, "planned")
        line.came_for = "yes" if new else "no"
        order.lines.append(line)
        career.renew(order, line, "replaced")


def book_new_instrument(career: Career, instrument: Instrument) -> None:
    """Put the exchange of a car's instrument on the agenda, on the day before the new one shows its first figure."""
    career.book(instrument.from_day - 1, lambda day: _new_instrument(career, instrument, day))


def _new_instrument(career: Career, instrument: Instrument, day: int) -> None:
    order, new = career.order(day, stay=0)
    line = career.bench.plain("instrument", "speedo", "fascia", "planned")
    line.came_for, line.finding = "yes" if new else "no", f"new instrument shows {instrument.start} {instrument.unit}"
    order.lines.append(line)
    career.renew(order, line, "exchanged")
