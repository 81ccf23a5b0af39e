"""Counts of what happened and what was written, for the truth file."""

from __future__ import annotations

from collections import Counter
from typing import TYPE_CHECKING, TypedDict

from sample_data.catalogue import components
from sample_data.dirt import REFUSED
from sample_data.lines import FAILED
from sample_data.parts import law_of, parts
from sample_data.truth import Dirty, TrueCar, TrueLaw
from sample_data.units import NEVER_FAILS
from sample_data.written import iso

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sample_data.career import Career
    from sample_data.played import Played
    from sample_data.written import Job


class ToldDirt(TypedDict):
    """The fields of the truth that tell of dirt."""

    expected_quarantined: int
    quarantined: dict[str, int]
    expected_set_aside: int
    set_aside: dict[str, int]
    dirty: tuple[Dirty, ...]


def counted(played: Played, jobs: Sequence[Job]) -> dict[str, int]:
    """Return how many cars, orders, lines and faults there are."""
    return {
        "cars ever in care": len(played.careers),
        "cars seen": len(played.seen),
        "orders": len(jobs),
        "lines": sum(len(job.rows) for job in jobs),
        "faults in care": len(played.shop.failures),
    }


def refused_lines(dirty: Sequence[Dirty]) -> set[tuple[str, int]]:
    """Return record_id and line_no of the lines a ledger refuses by their own values."""
    return {(each.record_id, each.line_no) for each in dirty if each.kind in REFUSED}


def true_laws(played: Played, jobs: Sequence[Job], dirty: Sequence[Dirty]) -> tuple[TrueLaw, ...]:
    """Return the law of every component and of every design that has its own, with its faults."""
    refused = refused_lines(dirty)
    happened = Counter((f.code, which) for f in played.shop.failures for which in ("all", f.part_no))
    told: Counter[tuple[str, str]] = Counter()
    for job in jobs:
        for line_no, line in enumerate(job.order.lines, start=1):
            if line.kind in FAILED and line.kind != "brought" and (job.record_id, line_no) not in refused:
                told[line.code, "all"] += 1
    own = [(part.code, part.part_no) for part in parts().values() if part.median_years]
    keys = [(code, "all") for code in components()] + own
    return tuple(_true_law(code, variant, happened[code, variant], told[code, variant]) for code, variant in keys)


def _true_law(code: str, variant: str, failures: int, recorded: int) -> TrueLaw:
    part = components()[code]
    law = law_of(code, "" if variant == "all" else variant)
    never = law is None or code in NEVER_FAILS
    return TrueLaw(
        code=code,
        component=part.name,
        variant=variant,
        scale="never" if law is None or never else law.scale,
        shape=law.shape if law else 0.0,
        median_years=law.median_years or None if law else None,
        median_km=law.median_km or None if law else None,
        silent_share=part.silent_share,
        failures=failures,
        recorded=recorded if variant == "all" else failures,
    )


def true_cars(played: Played) -> tuple[TrueCar, ...]:
    """Return what is true of every car."""
    return tuple(_true_car(played, career) for career in played.careers)


def _true_car(played: Played, career: Career) -> TrueCar:
    car = career.car
    travel, instrument = played.roads[car.number]
    left = played.left(career)
    return TrueCar(
        vehicle_id=car.vehicle_id,
        series=car.series,
        serial=car.serial,
        built=iso(car.built),
        joined=iso(car.joined),
        left=iso(left) if left else None,
        from_start=car.from_start,
        regime=car.regime,
        vanishes=car.vanishes,
        lay_up=car.lay_up,
        km_per_year=round(car.km_per_year),
        km_at_joining=round(travel.km(car.joined)),
        odometer=instrument.kind,
        odometer_from=iso(instrument.from_day) if instrument.from_day else None,
        seen=bool(career.orders),
    )


def told_dirt(dirty: Sequence[Dirty]) -> ToldDirt:
    """Return what the dirt must lead to: lines refused by kind, values set aside by column."""
    refused = Counter(each.kind for each in dirty if each.kind in REFUSED)
    refused["number used twice"] = sum(each.kind == "number used twice" for each in dirty)
    aside = Counter(each.column for each in dirty if each.kind not in {*refused, "odometer 0"})
    # a figure in a unit nobody knows is no figure
    aside["odometer"] += aside["odometer_unit"]
    return ToldDirt(
        expected_quarantined=sum(refused.values()),
        quarantined=dict(refused),
        expected_set_aside=sum(aside.values()),
        set_aside=dict(aside),
        dirty=tuple(dirty),
    )
