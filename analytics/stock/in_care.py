"""The installed base on a day: which cars are likely still in care, and how well the laws foretold failures."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.scales import DAYS_PER_YEAR
from analytics.stock.laws import StockLaws, stock_laws
from analytics.stock.like_units import Units, cells_of
from analytics.stock.presence import Presence, Seen, presence
from analytics.stock.units_in_place import CareRecords, Fleet

if TYPE_CHECKING:
    from datetime import date

    from numpy.typing import NDArray

    from analytics.parameters import Parameters
    from analytics.stock.history import StockRecords

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

FAILURES = ("failure", "found at inspection")
"""Reasons that the life law foretells."""


@dataclass(frozen=True, slots=True)
class InCare:
    """The installed base on the as-of day.

    Attributes
    ----------
    day
        The as-of day, days since 1970-01-01.
    start
        First visit of any car, days since 1970-01-01.
    cars
        `vehicle_id`, `series`, `first_visit_day`, `joined_on`, `left_on`, sorted by `vehicle_id`.
    seen
        When each was seen.
    q
        Shape ``(cars,)``: presence; above 1 it multiplies the chance of a failure.
    presence
        The law of presence.
    laws
        Life laws.
    places
        `series`, `component`, `position` of each unit that has a law.
    units
        These units.
    factor
        By component: failures seen and expected in the years after the past origins.
    left
        Cars that left since the oldest past origin, by the fall of presence, and the car-years they had.
    critical
        Safety-critical components.
    """

    day: float
    start: float
    cars: pl.DataFrame
    seen: Seen
    q: Floats
    presence: Presence
    laws: StockLaws
    places: pl.DataFrame
    units: Units
    factor: dict[str, tuple[float, float]]
    left: tuple[float, float]
    critical: frozenset[str]


@dataclass(frozen=True, slots=True)
class _Origin:
    """A past origin: z, failures seen and expected of each car, and the units' components and expected failures."""

    seen: Seen
    observed: Floats
    expected: Floats
    component: Counts
    car: Counts
    of_unit: Floats
    failed: Counts
    day: float


def in_care(records: StockRecords, care: CareRecords, as_of: date, parameters: Parameters) -> InCare | None:
    """Return the installed base on a day; None where no spell or no unit is known.

    Parameters
    ----------
    records
        `visits` and `vehicles`; the latter with `first_visit_day`, `joined_on`, `left_on`, `trusted`,
        `own_km_per_year`.
    care
        Units, faults and spells.
    as_of
        Last day that counts.
    parameters
        Defaults of rules 34 and 38.
    """
    if care.spells.is_empty() or care.units.is_empty():
        return None
    laws = stock_laws(care.spells, care.groupings, care.scales, parameters)
    fleet = Fleet(records, care, laws)
    today = _day(as_of)
    origins = [_past(fleet, care, s) for s in _past_origins(fleet, today, parameters)]
    fitted = presence(*_of_cars(origins), parameters)
    seen = fleet.seen(today)
    places, units = fleet.units_on(today)
    return InCare(
        day=today,
        start=fleet.first_day,
        cars=fleet.cars,
        seen=seen,
        q=fitted.of(seen),
        presence=fitted,
        laws=laws,
        places=places,
        units=units,
        factor=_factors(fleet, origins, fitted),
        left=_left(fitted, seen, origins, today),
        critical=frozenset(care.facts.filter("safety_critical")["component"]),
    )


def _past_origins(fleet: Fleet, today: float, parameters: Parameters) -> list[float]:
    """Return the days a year apart at which the installed base is looked at again, and failures counted after."""
    since = fleet.first_day
    if today - since < parameters.presence_years * DAYS_PER_YEAR:
        return []
    days = [today - round(k * DAYS_PER_YEAR) for k in (1, 2, 3, 4)]
    return [day for day in days if day >= since + parameters.base_years * DAYS_PER_YEAR]


def _past(fleet: Fleet, care: CareRecords, day: float) -> _Origin:
    """Return what was expected and seen in the year after a past origin; the law is today's, ages are not."""
    places, units = fleet.units_on(day)
    seen = fleet.seen(day)
    component = fleet.numbers(places["component"])
    of_unit = failures_in_a_year(fleet.laws, units)
    cars = seen.known.size
    when = pl.col("visit_day").cast(pl.Int32)
    faults = (
        care.faults.filter(
            (when > day)
            & (when <= day + DAYS_PER_YEAR)
            & pl.col("reads_as").is_in(FAILURES)
            & pl.col("component").is_in(list(fleet.components))
            & (pl.col("why_unused").is_null() | (pl.col("why_unused") != "joining fault"))
        )
        .join(fleet.cars.select("vehicle_id", "car"), on="vehicle_id")
        .filter(pl.col("car").is_in(np.flatnonzero(seen.known).tolist()))
    )
    return _Origin(
        seen,
        np.bincount(faults["car"].to_numpy(), minlength=cars).astype(np.float64),
        np.bincount(units.car, weights=of_unit, minlength=cars).astype(np.float64),
        component,
        units.car,
        of_unit,
        np.bincount(fleet.numbers(faults["component"]), minlength=len(fleet.components)),
        day,
    )


def failures_in_a_year(laws: StockLaws, units: Units) -> Floats:
    """Return the failures expected of each unit in a year, ``(units,)``, if its car is present.

    Parameters
    ----------
    laws
        Of which the heaviest cells are taken.
    units
        Units in place on a day.
    """
    cells = cells_of(units)
    year = np.full((1, 1, 1), DAYS_PER_YEAR)
    first, again = cells.chances(laws.heavy_shape[cells.law].T, laws.heavy_life[cells.law].T, year)
    mean = (laws.heavy_weight[cells.law].T * (first * (1 + again))[0]).sum(axis=0)
    return np.asarray(mean[cells.of_unit])


def _of_cars(origins: list[_Origin]) -> tuple[Floats, Floats, Floats]:
    """Return z, failures seen and expected of every car known at each origin."""
    nothing = np.zeros(0)
    columns = [[values[o.seen.known] for values in (o.seen.missed, o.observed, o.expected)] for o in origins] or [
        [nothing] * 3
    ]
    missed, observed, expected = (np.concatenate(column) for column in zip(*columns, strict=True))
    return missed, observed, expected


def _factors(fleet: Fleet, origins: list[_Origin], fitted: Presence) -> dict[str, tuple[float, float]]:
    """Return failures seen and expected of each component, cars weighted by presence at each origin."""
    seen, expected = np.zeros(len(fleet.components)), np.zeros(len(fleet.components))
    for origin in origins:
        weight = fitted.of(origin.seen)[origin.car] * origin.of_unit
        seen += origin.failed
        expected += np.bincount(origin.component, weights=weight, minlength=expected.size)
    return {name: (float(seen[at]), float(expected[at])) for name, at in fleet.components.items()}


def _left(fitted: Presence, now: Seen, origins: list[_Origin], today: float) -> tuple[float, float]:
    """Return how many of the cars in care at the oldest origin have left, and their car-years."""
    if not origins:
        return 0.0, 0.0
    oldest = min(origins, key=lambda origin: origin.day)
    then = np.minimum(fitted.of(oldest.seen), 1.0)
    still = float(np.minimum(fitted.of(now), then).sum())
    years = (today - oldest.day) / DAYS_PER_YEAR
    return max(float(then.sum()) - still, 0.0), years * (float(then.sum()) + still) / 2


def _day(day: date) -> float:
    return float(pl.Series([day]).cast(pl.Int32)[0])
