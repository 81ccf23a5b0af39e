"""The fifteen planted truths of the scenario: what was planted, and what is in the records by simple counts."""

from __future__ import annotations

from collections import Counter
from datetime import date
from typing import TYPE_CHECKING, Any

from sample_data import fleet, forgotten, parts, places, planted, shelf, visits
from sample_data.catalogue import components
from sample_data.dirt import ZERO_ODOMETERS
from sample_data.lines import FAILED
from sample_data.small_cells import privacy
from sample_data.units import SHARED_AGEING
from sample_data.written import iso

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.career import Failure
    from sample_data.lines import Line
    from sample_data.played import Played
    from sample_data.truth import Dirty
    from sample_data.written import Job

FAULTS = (*FAILED, "consequence", "burst")
WINDOW_DAYS = 120
Fact = dict[str, Any]


def planted_truths(played: Played, jobs: Sequence[Job], dirty: Sequence[Dirty]) -> dict[str, Fact]:
    """Return the planted truths by a short name, in the order of the scenario's list."""
    lines = [(job, line) for job in jobs for line in job.order.lines]
    return {
        "flap actuators": _flap_actuators(played, lines),
        "scales": {part.name: part.law.scale for part in components().values() if part.law},
        "hot spot": _hot_spot(jobs),
        "burst": _burst(jobs),
        "induced": _induced(played),
        "decoy": _pair(played, *SHARED_AGEING),
        "returns": {action: _returns(played, lines, action) for action in planted.RETURN_SHARES},
        "wave": _wave(played, lines),
        "last-time buy": {"part_no": shelf.LAST_TIME_BUY, "batch": shelf.LAST_TIME_BATCH},
        "odometers": _odometers(played) | {"zero figures": ZERO_ODOMETERS},
        "blank locations": _blank_locations(jobs),
        "vanishing": _cars(played, [c.car.vehicle_id for c in played.careers if c.car.vanishes], fleet.VANISHING_SHARE),
        "nothing to see": _nothing_to_see(played),
        "privacy": privacy(played, jobs),
        "brought faults": _brought(played, lines),
        "restarted numbers": {"lines": sum(each.kind == "number used twice" for each in dirty)},
        "turnover": _turnover(played),
        "blank positions": _blank_positions(jobs),
        "no reason": _share(
            sum(row["reason"] in {"", "not recorded"} for j in jobs for row in j.rows), len(lines), 0.10
        ),
        "check-overs": _check_overs(lines),
        "notes": {"mark": forgotten.NOTE_MARK},
    }


def _share(count: int, out_of: int, share: float) -> Fact:
    return {"planted_share": share, "count": count, "out_of": out_of, "share": round(count / max(out_of, 1), 4)}


def known_ages(told: int, units: int) -> Fact:
    """Return how many of the units found on joining have an age told by papers."""
    return _share(told, units, 0.10)


def _cars(played: Played, vehicle_ids: Sequence[str], share: float) -> Fact:
    return _share(len(vehicle_ids), len(played.careers), share) | {"vehicles": list(vehicle_ids)}


def _flap_actuators(played: Played, lines: Sequence[tuple[Job, Line]]) -> Fact:
    first, second = "SL-7101", parts.parts()["SL-7101"].superseded_by
    fitted = {no: [job.order.opened for job, line in lines if line.part_no == no] for no in (first, second)}
    failed = Counter(failure.part_no for failure in played.shop.failures if failure.code == "vact")
    return {
        "component": components()["vact"].name,
        "median_years": {no: parts.parts()[no].median_years for no in (first, second)},
        "fitted": {no: len(days) for no, days in fitted.items()},
        "failures": {no: failed[no] for no in (first, second)},
        "last_fitted": {no: iso(max(days)) for no, days in fitted.items()},
        "first_until_year": parts.parts()[first].last_year,
        "factory_first_to": "LW2-08099",
    }


def _places(jobs: Sequence[Job]) -> dict[str, Counter[str]]:
    """Return, per series, how many orders tell of a fault at each place: an order counts once per place."""
    seen: dict[str, Counter[str]] = {}
    for job in jobs:
        told = {row["location"] for line, row in job.pairs() if line.kind in FAULTS and row["location"]}
        seen.setdefault(job.order.car.series, Counter()).update(told)
    return seen


def _ratio(counts: Counter[str], place: str) -> float:
    others = [counts[point] for point in places.points() if point != place]
    return round(counts[place] / (sum(others) / len(others)), 3)


def _hot_spot(jobs: Sequence[Job]) -> Fact:
    seen = _places(jobs)
    return {
        "location": places.HOT_PLACE,
        "series": places.HOT_SERIES,
        "factor": places.HOT_FACTOR,
        "orders": {series: counts[places.HOT_PLACE] for series, counts in sorted(seen.items())},
        "ratio_to_average_place": {series: _ratio(counts, places.HOT_PLACE) for series, counts in sorted(seen.items())},
    }


def _burst(jobs: Sequence[Job]) -> Fact:
    lines: Counter[str] = Counter()
    for job in jobs:
        lines.update(row["location"] for line, row in job.pairs() if line.kind in FAULTS and row["location"])
    orders = sum(_places(jobs).values(), Counter())
    ratios = {
        "ratio_by_lines": _ratio(lines, places.BURST_PLACE),
        "ratio_by_orders": _ratio(orders, places.BURST_PLACE),
    }
    return {"location": places.BURST_PLACE} | ratios


def _days(played: Played, code: str) -> dict[int, list[int]]:
    days: dict[int, list[int]] = {}
    for failure in played.shop.failures:
        if failure.code == code:
            days.setdefault(failure.car.number, []).append(failure.day)
    return days


def _pair(played: Played, first: str, then: str) -> Fact:
    """Return how many cars saw one fail within 120 days of the other, by order."""
    a, b = _days(played, first), _days(played, then)
    gaps = [(y - x) for car in a for x in a[car] for y in b.get(car, ())]
    return {
        "first": components()[first].name,
        "then": components()[then].name,
        "window_days": WINDOW_DAYS,
        "first_then": sum(0 < gap <= WINDOW_DAYS for gap in gaps),
        "then_first": sum(-WINDOW_DAYS <= gap < 0 for gap in gaps),
    }


def _induced(played: Played) -> Fact:
    count = sum(failure.kind == "induced" for failure in played.shop.failures)
    causes = sum(failure.code == planted.INDUCING for failure in played.shop.failures)
    return _share(count, causes, planted.INDUCED_SHARE) | _pair(played, planted.INDUCING, planted.INDUCED[0])


def _returns(played: Played, lines: Sequence[tuple[Job, Line]], action: str) -> Fact:
    """Return how many repairs that could be watched for 90 days came back within them."""
    returned: dict[tuple[int, str], list[int]] = {}
    for job, line in lines:
        if line.kind == "return":
            returned.setdefault((job.order.car.number, line.true_position), []).append(job.order.opened)
    ends = {career.car.number: played.left(career) or played.period.last for career in played.careers}
    watched = [
        (job, line)
        for job, line in lines
        if line.code == planted.RETURNING
        and line.action == action
        and job.order.closed + 90 <= ends[job.order.car.number]
    ]
    back = sum(
        any(0 < day - job.order.closed <= 90 for day in returned.get((job.order.car.number, line.true_position), ()))
        for job, line in watched
    )
    return _share(back, len(watched), planted.RETURN_SHARES[action]) | {"component": components()["wmot"].name}


def _wave(played: Played, lines: Sequence[tuple[Job, Line]]) -> Fact:
    fitted = [job for job, line in lines if line.kind == "campaign"]
    days = [job.order.closed for job in fitted]
    low, high = min(days), max(days)
    here = [career for career in played.careers if played.left(career) is None]
    units = [unit for c in here for (code, _), unit in c.units.items() if code == visits.CAMPAIGN_CODE]
    return {
        "component": components()[visits.CAMPAIGN_CODE].name,
        "fitted": len(fitted),
        "cars": len({job.order.car.number for job in fitted}),
        "from": iso(low),
        "to": iso(high),
        "units_in_care_at_end": len(units),
        "of_the_wave_at_end": sum(low <= unit.fitted <= high for unit in units),
    }


def _odometers(played: Played) -> Fact:
    kinds: dict[str, list[str]] = {}
    for career in played.careers:
        kinds.setdefault(played.roads[career.car.number][1].kind, []).append(career.car.vehicle_id)
    return {kind: _cars(played, cars, share) for kind, share in ODOMETER_SHARES.items() for cars in [kinds[kind]]}


ODOMETER_SHARES = {"unit switched": 0.10, "rolled over": 0.04, "instrument changed": 0.03}


def _blank_locations(jobs: Sequence[Job]) -> Fact:
    told = [row for job in jobs for line, row in job.pairs() if line.location]
    return _share(sum(not row["location"] for row in told), len(told), forgotten.BLANK_LOCATION_SHARE)


def _blank_positions(jobs: Sequence[Job]) -> Fact:
    code = forgotten.BLANK_POSITION_CODE
    rows = [row for job in jobs for line, row in job.pairs() if line.code == code]
    share = _share(sum(not row["position"] for row in rows), len(rows), forgotten.BLANK_POSITION_SHARE)
    return share | {"component": components()[code].name}


def _nothing_to_see(played: Played) -> Fact:
    failed: Counter[str] = Counter(failure.code for failure in played.shop.failures)
    coil: Failure = next(failure for failure in played.shop.failures if failure.kind == "coil")
    told = {components()[code].name: failed[code] for code in ("trig", "coil")}
    return {"failures": told, "coil_vehicle": coil.car.vehicle_id, "coil_day": iso(coil.day)}


def _brought(played: Played, lines: Sequence[tuple[Job, Line]]) -> Fact:
    cars = {job.order.car.vehicle_id for job, line in lines if line.kind == "brought"}
    joined = sum(not career.car.from_start for career in played.careers)
    return _share(len(cars), joined, planted.BROUGHT_SHARE) | {"vehicles": sorted(cars)}


def _turnover(played: Played) -> Fact:
    left = Counter(date.fromordinal(day).year for c in played.careers if (day := played.left(c)))
    joined = Counter(date.fromordinal(c.car.joined).year for c in played.careers if not c.car.from_start)
    years = range(date.fromordinal(played.period.first).year + 1, date.fromordinal(played.period.last).year)
    by_year = {str(year): [joined[year], left[year]] for year in years}
    return {"planted_share": fleet.LEAVING_SHARE, "joined_and_left_by_year": by_year}


def _check_overs(lines: Sequence[tuple[Job, Line]]) -> Fact:
    code = planted.CHECKED_OVER
    repairs = sum(line.code == code and line.kind in (*FAILED, "planned", "consequence") for _, line in lines)
    count = sum(line.kind == "check over" for _, line in lines)
    return _share(count, repairs, planted.CHECK_OVER_SHARE) | {"component": components()[code].name}
