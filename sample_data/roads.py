"""How far each car travelled day by day, and what its odometer showed: units, drums that roll over, new instruments."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from sample_data.dice import Dice
from sample_data.fleet import HEAVY_USE_KM
from sample_data.lives import DAYS_PER_YEAR, Travel

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from sample_data.fleet import Car, Period

KM_PER_MILE = 1.609344
FIRST_DAY = 717_702  # 1 January 1966
EARLY_YEARS = 10
HEAVY_BEFORE = 0.25
"""Share of today's use that a car in daily use had before it joined."""
SWITCH_SHARE, ROLLOVER_SHARE, CHANGE_SHARE = 0.10, 0.04, 0.03
MILES_SHARE = 0.2
SEASON = range(4, 11)  # April to October


@dataclass(frozen=True, slots=True)
class Instrument:
    """The odometer of a car and how the shop writes it down.

    Attributes
    ----------
    kind
        ``plain``, ``unit switched``, ``rolled over`` or ``instrument changed``.
    unit, digits
        Unit and whole-unit drums at first.
    from_day
        Day of the switch, the rollover or the change; 0 where nothing happens.
    start
        What a changed instrument shows on `from_day`.
    labelled
        Whether the unit is written beside the figure.
    """

    kind: str
    unit: str
    digits: int
    from_day: int
    start: int
    labelled: bool

    def reading(self, travel: Travel, day: int) -> tuple[int, str]:
        """Return the figure written down on a day and the unit written beside it, which may be empty."""
        switched = self.kind == "unit switched" and day >= self.from_day
        unit = {"km": "mi", "mi": "km"}[self.unit] if switched else self.unit
        km = travel.km(day)
        if self.kind == "instrument changed" and day >= self.from_day:
            km += self.start * _km_per(unit) - travel.km(self.from_day)
        return int(km / _km_per(unit)) % 10**self.digits, unit if self.labelled else ""


def _km_per(unit: str) -> float:
    return KM_PER_MILE if unit == "mi" else 1.0


@cache
def _calendar(last: int) -> tuple[NDArray[np.bool_], NDArray[np.intp]]:
    """Return, for each day from FIRST_DAY on, whether it lies in the season, and its year counted from 1966."""
    days = np.arange(last - FIRST_DAY + 1) + (np.datetime64("1966-01-01") - np.datetime64("1970-01-01")).astype(int)
    dates = days.astype("datetime64[D]")
    month = dates.astype("datetime64[M]").astype(int) % 12 + 1
    return np.isin(month, list(SEASON)), dates.astype("datetime64[Y]").astype(int) - (1966 - 1970)


def _daily_km(dice: Dice, car: Car, last: int, early_km: float) -> NDArray[np.float64]:
    season, year = _calendar(last)
    since = car.built - FIRST_DAY
    season, year = season[since:], year[since:]
    swing = np.array([dice.lognormal(1.0, 0.2) for _ in range(int(year[-1]) + 1)])
    daily = np.full(len(season), car.km_per_year / DAYS_PER_YEAR)
    if car.lay_up:
        daily = np.where(season, daily * 12 / len(SEASON), 0.0)
    if car.km_per_year >= HEAVY_USE_KM:
        daily[: car.joined - car.built] *= HEAVY_BEFORE
    daily[: round(EARLY_YEARS * DAYS_PER_YEAR)] = early_km / DAYS_PER_YEAR
    moved: NDArray[np.float64] = daily * swing[year]
    return moved


def _rolling(seed: int, car: Car, last: int, unit: str) -> tuple[Travel, int]:
    """Return a road on which a five-digit odometer rolls over half-way through the car's stay, and that day."""
    middle = (car.joined + min(car.leaves, last)) // 2
    probe = Travel(car.built, _daily_km(Dice(seed, "swing", car.number), car, last, 0.0))
    full = 100_000 * _km_per(unit)
    for turns in range(1, 20):
        early = (turns * full - probe.km(middle)) / EARLY_YEARS
        if early > 3_000:
            break
    daily = _daily_km(Dice(seed, "swing", car.number), car, last, early)
    days = round(EARLY_YEARS * DAYS_PER_YEAR)
    daily[:days] *= early * days / DAYS_PER_YEAR / daily[:days].sum()
    # half a km beyond, so that no rounding decides on which side of a winter's rest the drums turn
    daily[days] += turns * full + 0.5 - daily[: middle - car.built + 1].sum()
    travel = Travel(car.built, daily)
    return travel, travel.day_of(turns * full)


def _plain(dice: Dice, car: Car, travel: Travel, last: int) -> Instrument:
    unit = "mi" if dice.chance(MILES_SHARE) else "km"
    full = 100_000 * _km_per(unit)
    same = travel.km(car.joined - 1) // full == travel.km(min(car.leaves, last) + 30) // full
    digits = 5 if same and dice.chance(0.5) else 6
    # miles without a word beside them could not be told from km by anyone
    return Instrument("plain", unit, digits, 0, 0, labelled=unit == "mi" or dice.chance(0.85))


def odometer_kinds(dice: Dice, cars: Sequence[Car], period: Period) -> dict[int, str]:
    """Return which cars have an odometer out of the ordinary, in exact shares, among those seen long enough to tell."""
    told = {
        car.number: min(car.leaves, period.last) - car.joined > 3 * DAYS_PER_YEAR and car.regime == "yearly"
        for car in cars
        if not car.fails_coil
    }
    able = dice.shuffled([number for number, long in told.items() if long])
    kinds: dict[int, str] = {}
    for kind, share in (
        ("rolled over", ROLLOVER_SHARE),
        ("instrument changed", CHANGE_SHARE),
        ("unit switched", SWITCH_SHARE),
    ):
        for number in able[len(kinds) : len(kinds) + round(share * len(cars))]:
            kinds[number] = kind
    return kinds


def road(seed: int, car: Car, period: Period, kind: str) -> tuple[Travel, Instrument]:
    """Return how far a car travelled and what its odometer shows."""
    dice = Dice(seed, "road", car.number)
    last = period.last + 400
    unit = "mi" if dice.chance(MILES_SHARE) else "km"
    if kind == "rolled over":
        travel, day = _rolling(seed, car, last, unit)
        return travel, Instrument(kind, unit, 5, day, 0, labelled=True)
    travel = Travel(car.built, _daily_km(dice, car, last, dice.lognormal(9_000, 0.35)))
    middle = car.joined + int((min(car.leaves, period.last) - car.joined) * dice.uniform(0.3, 0.7))
    if kind == "instrument changed":
        return travel, Instrument(kind, unit, 6, middle, dice.pick((0, 0, 0, 23_410, 41_877)), labelled=True)
    if kind == "unit switched":
        labelled = dice.chance(0.5)
        return travel, Instrument(kind, unit if labelled else "km", 6, middle, 0, labelled)
    return travel, _plain(dice, car, travel, last)
