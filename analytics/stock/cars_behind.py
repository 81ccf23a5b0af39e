"""Which cars stand behind a group's forecast."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.stock.installed_base import BaseDemand

    Floats = NDArray[np.float64]

MOST_CARS = 1000
"""Cars told of one group, the most likely first."""


def expected_of_cars(demand: BaseDemand, days: Floats) -> Floats | None:
    """Return the repairs expected of each car, ``(cars,)``, over one horizon, shape ``(1, DRAWS)``.

    None of a safety-critical part: it would tell how long a unit has left (rule 39).
    """
    return None if demand.critical else demand.by_car(days)


def named(demand: BaseDemand, expected: Floats | None, count: int) -> tuple[str, ...]:
    """Return the cars that most of the repairs are expected from, at most so many."""
    if expected is None:
        return ()
    kept = np.partition(expected, -count)[-count:].min() if expected.size > count else 0.0
    likely = np.flatnonzero((expected >= kept) & (expected > 0))
    most = sorted((-float(expected[car]), name) for car, name in zip(likely, demand.names_of(likely), strict=True))
    return tuple(name for _, name in most[:count])


def behind(demand: BaseDemand, expected: Floats | None) -> list[dict[str, object]]:
    """Return a group's rows of table ``demand_car``: the cars with a unit in place, the most likely first.

    Parameters
    ----------
    demand
        The group's installed base.
    expected
        As from `expected_of_cars`; None = the cars by name, without a figure.
    """
    told = _told(demand, expected).head(MOST_CARS).select("vehicle_id", "units", "presence", "expected")
    return told.select(pl.lit(demand.live_no).alias("part_no"), pl.all()).to_dicts()


def _told(demand: BaseDemand, expected: Floats | None) -> pl.DataFrame:
    cars = demand.units_by_car()
    if expected is None:
        return cars.with_columns(expected=pl.lit(None, dtype=pl.Float64)).sort("vehicle_id")
    return cars.with_columns(expected=pl.Series(expected[cars["car"].to_numpy()])).sort(
        "expected", "vehicle_id", descending=[True, False]
    )
