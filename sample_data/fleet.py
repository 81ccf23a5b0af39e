"""The cars in care through the years: who joins when, from which series, how used, how often seen, and who leaves."""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from sample_data.catalogue import series
from sample_data.dice import Dice
from sample_data.lives import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

LEAVING_SHARE = 0.12
REGIMES = {"yearly": 0.55, "mixed": 0.30, "breakdown only": 0.15}
VANISHING_SHARE = 0.08
HEAVY_USE_SHARE = 0.06
HEAVY_USE_KM = 10_000
USE_MEDIAN_KM, USE_SIGMA = 1_800, 0.7
PAPERS_SHARE = 0.16
LEFT_KNOWN_SHARE = 0.6
SMALL_CELL_CARS = 7
SMALL_CELL_LAST_SERIAL = "LW1-02999"
COLLECTOR_CARS = 4
COLLECTOR_KM = 6_500
SERIES_STARTS = {"S1": 1966.0, "S2": 1971.5, "S3": 1980.5}
BUILDING_ENDS = 1992.0
LEAST_AGE, USUAL_AGE, USUAL_AGE_SHARE = 21.0, 40.0, 0.8


@dataclass(frozen=True, slots=True)
class Car:
    """One car and what will be true of it; days are proleptic ordinals.

    Attributes
    ----------
    number, vehicle_id, series, serial, built
        Running number; words for the feed; day of building.
    joined, leaves, from_start
        First day in care (of the archive, if in care before: `from_start`) and last day in care.
    regime, vanishes
        How often it is seen; whether it comes for breakdowns only and is not seen again after one.
    lay_up, km_per_year
        Whether it rests from November to March; its use in these years.
    owner_key
        Opaque word of the owner, may be empty.
    papers, left_known
        Whether an owner's file tells of fittings before joining; whether the shop knows that it left.
    collector, fails_coil
        One of the four cars of one owner; the one car whose ignition coil fails.
    """

    number: int
    vehicle_id: str
    series: str
    serial: str
    built: int
    joined: int
    leaves: int
    from_start: bool
    regime: str
    vanishes: bool
    lay_up: bool
    km_per_year: float
    owner_key: str
    papers: bool
    left_known: bool
    collector: bool
    fails_coil: bool


@dataclass(frozen=True, slots=True)
class Period:
    """First and last day of the archive (proleptic ordinals)."""

    first: int
    last: int

    @property
    def years(self) -> float:
        """Length in years."""
        return (self.last - self.first + 1) / DAYS_PER_YEAR

    def day(self, year: float) -> int:
        """Return the day so many years after the first."""
        return self.first + round(year * DAYS_PER_YEAR)


def _stays(dice: Dice, period: Period, cars_in_care: int) -> list[tuple[int, int]]:
    """Return joining and leaving days: each place in the fleet is taken again when its car has left."""
    stays: list[tuple[int, int]] = [(period.first, period.last + 1)] * (COLLECTOR_CARS + 1)
    for _ in range(cars_in_care - COLLECTOR_CARS - 1):
        joined = period.first
        while joined < period.last - 30:
            leaves = joined + max(40, round(dice.exponential(DAYS_PER_YEAR / LEAVING_SHARE)))
            stays.append((joined, min(leaves, period.last + 1)))
            joined = leaves + dice.whole(-20, 30)
    return stays


def _shares(dice: Dice, labels: dict[str, float], count: int) -> list[str]:
    """Return `count` labels in drawn order, each in its exact share."""
    filled = 0.0
    made: list[str] = []
    for label, share in labels.items():
        filled += share
        made += [label] * (round(filled * count) - len(made))
    return dice.shuffled(made)


def _built_year(dice: Dice, joined: int) -> float:
    """Return a year of building such that 80 % of the cars join at 21 to 40 years, more of them old than young."""
    now = 1970.0 + (joined - date(1970, 1, 1).toordinal()) / DAYS_PER_YEAR
    if dice.chance(USUAL_AGE_SHARE):
        youngest = max(LEAST_AGE, now - BUILDING_ENDS)
        return now - youngest - (USUAL_AGE - youngest) * math.sqrt(dice.uniform())
    return dice.uniform(SERIES_STARTS["S1"], now - USUAL_AGE)


def _series_of(year: float) -> str:
    return max(name for name, start in SERIES_STARTS.items() if start <= year)


def _small_cell(dice: Dice, years: list[float]) -> None:
    """Move the S1 cars so that exactly seven were built before the end of the dynamo's serials."""
    first = SERIES_STARTS["S1"]
    border = first + int(SMALL_CELL_LAST_SERIAL[-5:]) / series()["S1"].last_serial * (SERIES_STARTS["S2"] - first)
    old = [number for number, year in enumerate(years) if _series_of(year) == "S1" and number >= COLLECTOR_CARS]
    early = set(dice.shuffled(old)[:SMALL_CELL_CARS])
    for number in [*range(COLLECTOR_CARS), *old]:
        low, high = (first, border - 0.02) if number in early else (border + 0.02, SERIES_STARTS["S2"] - 0.01)
        years[number] = dice.uniform(low, high)


def _serials(years: Sequence[float]) -> list[str]:
    """Return serials in the order of building; none twice."""
    ends = [*list(SERIES_STARTS.values())[1:], BUILDING_ENDS]
    taken: set[str] = set()
    serials = []
    for year in years:
        facts = series()[_series_of(year)]
        first = SERIES_STARTS[facts.series]
        end = ends[list(SERIES_STARTS).index(facts.series)]
        running = 1 + int((year - first) / (end - first) * (facts.last_serial - 1))
        while f"{facts.prefix}-{running:05d}" in taken:
            running -= 1
        taken.add(f"{facts.prefix}-{running:05d}")
        serials.append(f"{facts.prefix}-{running:05d}")
    return serials


def _owner_keys(dice: Dice, count: int) -> list[str]:
    """Return an opaque owner per car: one with four cars, some with two, a few unknown."""
    keys = ["own-0001"] * COLLECTOR_CARS
    while len(keys) < count:
        key = f"own-{len(keys) * 7 % 9000 + 1000}"
        keys += [""] if dice.chance(0.08) else [key] * (2 if dice.chance(0.05) else 1)
    return keys[:count]


def _use(dice: Dice, count: int) -> list[float]:
    """Return km per year: lognormal below 10,000, and exactly 6 % above."""
    heavy = _shares(dice, {"heavy": HEAVY_USE_SHARE, "": 1.0 - HEAVY_USE_SHARE}, count)
    made = []
    for label in heavy:
        km = dice.uniform(HEAVY_USE_KM + 500, 18_000) if label else dice.lognormal(USE_MEDIAN_KM, USE_SIGMA)
        made.append(km if label else min(max(km, 300.0), HEAVY_USE_KM - 500.0))
    return made


def fleet(seed: int, period: Period, cars_in_care: int) -> list[Car]:
    """Return every car that is in care at some time, in the order of its running number."""
    dice = Dice(seed, "fleet")
    stays = _stays(dice, period, cars_in_care)
    count = len(stays)
    years = [_built_year(dice, joined) for joined, _ in stays]
    _small_cell(dice, years)
    serials, owners, use = _serials(years), _owner_keys(dice, count), _use(dice, count)
    labels = dict(REGIMES)
    labels["breakdown only"] -= VANISHING_SHARE
    regimes = _shares(dice, {**labels, "vanishes": VANISHING_SHARE}, count)
    cars = []
    for number, (joined, leaves) in enumerate(stays):
        collector, coil = number < COLLECTOR_CARS, number == COLLECTOR_CARS
        vanishes = regimes[number] == "vanishes" and not (collector or coil)
        regime = "breakdown only" if vanishes else regimes[number]
        km = COLLECTOR_KM if collector else use[number]
        cars.append(
            Car(
                number=number,
                vehicle_id=f"car-{number + 1:03d}",
                series=_series_of(years[number]),
                serial=serials[number],
                built=date(1966, 1, 1).toordinal() + int((years[number] - 1966.0) * DAYS_PER_YEAR),
                joined=joined,
                leaves=leaves,
                from_start=joined == period.first,
                regime="yearly" if collector or coil else regime,
                vanishes=vanishes,
                lay_up=km < 6_000 and dice.chance(0.75),
                km_per_year=km,
                owner_key=owners[number],
                papers=dice.chance(PAPERS_SHARE),
                left_known=leaves <= period.last and not vanishes and dice.chance(LEFT_KNOWN_SHARE),
                collector=collector,
                fails_coil=coil,
            )
        )
    return cars
