"""Clocks by hand: a car's odometer figures as (day, figure) pairs."""

from __future__ import annotations

from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.spells.clocks import EXCHANGE_SCHEMA, READING_SCHEMA, VEHICLE_SCHEMA, Clock, clocks

if TYPE_CHECKING:
    from analytics.parameters import Parameters

START = date(2010, 1, 1)
AS_OF = date(2030, 1, 1)


def on(day: int) -> date:
    return START + timedelta(days=day)


def clock(
    *figures: tuple[int, float],
    unit: str = "km",
    miles: tuple[int, ...] = (),
    stated: tuple[int, ...] = (),
    exchanged: tuple[int, ...] = (),
    as_of: date = AS_OF,
    parameters: Parameters | None = None,
    **car: Any,
) -> Clock:
    """Return the clock of car ``A``: figures by day; which of them are miles, or stated at a repair."""
    readings = [
        {
            "vehicle_id": "A",
            "read_on": on(day),
            "seen_at": f"{number:03d}",
            "odometer": float(shown),
            "odometer_unit": "mi" if number in miles else unit,
            "stated": number in stated,
        }
        for number, (day, shown) in enumerate(figures)
    ]
    vehicle = {"vehicle_id": "A", "series": "S1", "built_on": None, "odometer_digits": None, "trusted": False, **car}
    days = [{"vehicle_id": "A", "day": on(day)} for day in exchanged]
    return clocks(
        pl.DataFrame(readings, schema=READING_SCHEMA),
        pl.DataFrame([vehicle], schema=VEHICLE_SCHEMA),
        as_of,
        parameters,
        pl.DataFrame(days, schema=EXCHANGE_SCHEMA),
    )


def totals(made: Clock) -> list[float | None]:
    """Return the total km of every figure in order, null where set aside."""
    return made.reading.sort("seen_at")["total_km"].to_list()


def verdicts(made: Clock) -> list[str]:
    return made.reading.sort("seen_at")["verdict"].to_list()


def km(made: Clock, *days: int) -> list[int | None]:
    return made.km_at(pl.Series(["A"] * len(days)), pl.Series([on(day) for day in days])).to_list()
