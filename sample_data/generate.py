"""Write the demo: fourteen years of repairs of invented cars, as a feed, and the truth beside it."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics.records.feed import FEED
from sample_data import shelf, tables
from sample_data.career import Career, Shop
from sample_data.catalogue import scenario_rows
from sample_data.counts import counted, told_dirt, true_cars, true_laws
from sample_data.dice import Dice, Quota
from sample_data.dirt import soil
from sample_data.fleet import Period, fleet
from sample_data.forgotten import forget
from sample_data.gauges import limit_rows, read_gauges
from sample_data.planted import BROUGHT_SHARE, quotas
from sample_data.planted_truths import known_ages, planted_truths
from sample_data.played import Played
from sample_data.roads import odometer_kinds, road
from sample_data.truth import TRUTH_FILE, Truth
from sample_data.visits import book_new_instrument, book_years
from sample_data.written import iso, number, write_rows

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from sample_data.written import Job, Row

DEFAULT_SEED = 2075
"""Here the smallest planted truth, a dozen induced failures, stands clear of chance, as with four seeds in five."""
LAST_DAY = date(2026, 11, 24)
LEAST_CARS, LEAST_YEARS = 60, 10


def generate(folder: Path, *, seed: int = DEFAULT_SEED, years: int = 14, cars_in_care: int = 160) -> Truth:
    """Write the demo feed into `folder`, and ``truth.json`` beside it.

    The same arguments write the same bytes.

    Parameters
    ----------
    folder
        Folder of the feed; made if it is not there. Files of the same names are written over.
    seed
        What all chance starts from.
    years
        Length of the archive in years, at least 10; it ends on 24 November 2026.
    cars_in_care
        Cars in care at any time, at least 60.

    Returns
    -------
    Truth
        What is true of the records, as written to ``truth.json``.

    Raises
    ------
    ValueError
        If the archive is too short, or the fleet too small, for the planted truths.
    """
    if years < LEAST_YEARS or cars_in_care < LEAST_CARS:
        raise ValueError(
            f"the truths need {LEAST_YEARS} years and {LEAST_CARS} cars at least, got {years} and {cars_in_care}"
        )
    first = LAST_DAY.replace(year=LAST_DAY.year - years).toordinal() + 1
    played = _play(seed, Period(first, LAST_DAY.toordinal()), cars_in_care)
    jobs = number([order for career in played.careers for order in career.orders])
    read_gauges(Dice(seed, "gauges"), jobs)
    for job in jobs:
        write_rows(job, played.roads)
    inferred = forget(Dice(seed, "forgotten"), jobs, first)
    dirty = soil(Dice(seed, "dirt"), jobs)
    rows, told, units = _tables(seed, played, jobs)
    folder.mkdir(parents=True, exist_ok=True)
    for name, table in rows.items():
        _write(folder, name, table)
    truth = Truth(
        seed=seed,
        first_day=iso(first),
        last_day=LAST_DAY.isoformat(),
        years=years,
        cars_in_care=cars_in_care,
        counts=counted(played, jobs) | {name: len(table) for name, table in rows.items()},
        laws=true_laws(played, jobs, dirty),
        cars=true_cars(played),
        planted=planted_truths(played, jobs, dirty) | {"known ages": known_ages(len(rows["fitted"]), units)},
        inferred=inferred | told,
        **told_dirt(dirty),
    )
    truth.write(folder.parent / TRUTH_FILE)
    return truth


def _play(seed: int, period: Period, cars_in_care: int) -> Played:
    cars = fleet(seed, period, cars_in_care)
    kinds = odometer_kinds(Dice(seed, "odometers"), cars, period)
    roads = {car.number: road(seed, car, period, kinds.get(car.number, "plain")) for car in cars}
    shop = Shop(period, quotas(), [])
    joiners = [not car.from_start for car in cars]
    able = [not car.from_start and car.regime != "breakdown only" for car in cars]
    # a car that comes for breakdowns only joins with a failure of its own: the others make up the planted share
    brought = Quota(BROUGHT_SHARE * sum(joiners) / sum(able))
    careers = []
    for car, may_bring in zip(cars, able, strict=True):
        travel, instrument = roads[car.number]
        career = Career(car, travel, shop, Dice(seed, "career", car.number))
        book_years(career, brings_fault=may_bring and brought.due())
        if instrument.kind == "instrument changed":
            book_new_instrument(career, instrument)
        career.play()
        careers.append(career)
    return Played(period, careers, {car.number: roads[car.number] for car in cars}, shop)


def _tables(seed: int, played: Played, jobs: Sequence[Job]) -> tuple[dict[str, list[Row]], dict[str, int], int]:
    """Return the rows of every table, how many values in them a reader must fill in, and the units found on joining."""
    seen = played.seen
    instruments = {number: instrument for number, (_, instrument) in played.roads.items()}
    vehicles, told = tables.vehicle_rows(Dice(seed, "vehicles"), seen, instruments)
    fitted, units = tables.fitted_rows(Dice(seed, "papers"), seen)
    rows = {
        "vehicles": vehicles,
        "repairs": [row for job in jobs for row in job.rows],
        "readings": tables.reading_rows(seen, instruments),
        "components": tables.component_rows(),
        "locations": tables.location_rows(),
        "parts": tables.part_rows(),
        "stock": shelf.stock_rows(Dice(seed, "stock"), played.period),
        "sales": shelf.sale_rows(Dice(seed, "sales"), played.period, seen),
        "fitted": fitted,
        "limits": limit_rows(),
        "opinions": scenario_rows("opinions"),
    }
    return rows, told, units


def _write(folder: Path, name: str, rows: list[Row]) -> None:
    columns = {column: [row.get(column) or None for row in rows] for column in FEED[name].names}
    pl.DataFrame(columns, schema=dict.fromkeys(columns, pl.String)).write_csv(folder / f"{name}.csv")
