"""What is planted to follow from a repair: returns, an induced failure, check-overs."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sample_data.catalogue import components
from sample_data.dice import Quota
from sample_data.lines import FAILED, Line
from sample_data.places import BURST_PLACE

if TYPE_CHECKING:
    from sample_data.career import Career
    from sample_data.lines import Order
    from sample_data.units import Unit

RETURN_SHARES = {"overhauled": 0.14, "exchanged": 0.04}
RETURN_DAYS, RETURN_KM = 85, 1_400
NO_FAULT_SHARE = 0.10
INDUCED_SHARE, INDUCED_DAYS = 0.12, 118
INDUCED_SHARE_OF_WATCHED = 0.155
"""So many of the tears that can be followed for 120 days, once per car, make the share of all tears."""
TOLD_SHARE = 0.25
"""Share of the induced failures whose record tells that they are a consequence, and of what."""
CHECK_OVER_SHARE, CHECK_OVER_DAYS = 0.70, (11, 17)
BROUGHT_SHARE = 0.20
FOUND_ANYWAY = 0.85
"""Share of hidden faults that also come to light on a visit without service."""
RETURNING, INDUCING, INDUCED, CHECKED_OVER = "wmot", "vpump", ("vcheck", "bay left"), "carb"


def quotas() -> dict[str, Quota]:
    """Return a fresh counter per planted share."""
    shares = {f"return {action}": share for action, share in RETURN_SHARES.items()}
    shares |= {"no fault": NO_FAULT_SHARE, "induced": INDUCED_SHARE_OF_WATCHED, "check over": CHECK_OVER_SHARE}
    shares |= {"told": TOLD_SHARE}
    return {name: Quota(share) for name, share in shares.items()}


def follow_up(career: Career, order: Order, line: Line, unit: Unit) -> None:
    """Plant what follows from the renewal of a unit."""
    if line.code == RETURNING:
        _may_return(career, order, line, unit)
    elif line.code == INDUCING and line.kind in FAILED:
        _may_induce(career, order)
    elif line.code == CHECKED_OVER and line.kind != "mate" and career.shop.quotas["check over"].due():
        day = order.closed + career.dice.whole(*CHECK_OVER_DAYS)
        career.book(day, lambda today: _check_over(career, line.true_position, today))


def _may_return(career: Career, order: Order, line: Line, unit: Unit) -> None:
    if career.shop.quotas[f"return {line.action}"].due():
        day = order.closed + career.dice.whole(3, RETURN_DAYS)
        while career.travel.km(day) - career.travel.km(order.closed) > RETURN_KM:
            day -= 1
        unit.fails_on, unit.fate = max(day, order.closed + 1), "return"
    elif career.shop.quotas["no fault"].due():
        day = order.closed + career.dice.whole(8, 60)
        career.book(day, lambda today: _no_fault(career, line.true_position, today))


def _may_induce(career: Career, order: Order) -> None:
    low, high = order.closed + 3, order.opened + INDUCED_DAYS
    watched = high < min(career.car.leaves, career.shop.period.last) and not career.car.vanishes
    if career.induced or low > high - 30 or not watched or career.fresh_here(order, INDUCED):
        return
    if career.shop.quotas["induced"].due():
        career.induced = True
        career.book(career.dice.whole(low, high), lambda today: _induce(career, today, high))


def _induce(career: Career, day: int, last: int) -> None:
    ready = career.orders[-1].closed + 1
    if day >= ready:
        career.fail(*INDUCED, day, "induced")
    elif ready <= last:  # the car is in for something else: the valve fails once it is back on the road
        career.book(ready, lambda today: _induce(career, today, last))


def tell_harm(career: Career, line: Line) -> None:
    """Let the record of some induced failures tell what brought them about."""
    if line.kind == "induced" and career.shop.quotas["told"].due():
        line.reason, line.cause = "consequence", f"damaged by the {components()[INDUCING].name}"


def _no_fault(career: Career, position: str, day: int) -> None:
    if day <= career.orders[-1].closed:
        return
    order, _ = career.order(day, stay=0)
    order.lines.append(no_fault_line(career, RETURNING, position))


def no_fault_line(career: Career, code: str, position: str) -> Line:
    """Return a line of a visit at which nothing was found."""
    line = career.bench.fault("no fault", code, position, complained=True)
    line.finding, line.cause, line.action, line.reason = "none confirmed", "", "inspected", "no fault found"
    line.came_for = "yes"
    return career.bench.work(line, 0.3)


def _check_over(career: Career, position: str, day: int) -> None:
    if career.car.vanishes and day >= career.car.leaves:
        return
    order, new = career.order(day, stay=0)
    line = career.bench.plain("check over", CHECKED_OVER, position, "no fault found")
    line.finding, line.action = "good", career.dice.pick(("inspected", "inspected", "adjusted"))
    line.came_for = "yes" if new else "no"
    order.lines.append(career.bench.work(line, 0.2))


def burst(order: Order, line: Line) -> None:
    """Write the further lines that a job at the centre duct always makes, all of one repair."""
    if line.location != BURST_PLACE:
        return
    # without chance: where a fault shows must change nothing that happens later
    for action in ("refitted", "cleaned", "adjusted", "refitted", "cleaned")[: 3 + order.opened % 3]:
        more = Line("burst", line.code, line.true_position, line.position, line.location, came_for="no")
        more.action, more.reason, more.finding = action, line.reason, line.finding
        more.labour_minutes, more.cost = 20, 26
        order.lines.append(more)
