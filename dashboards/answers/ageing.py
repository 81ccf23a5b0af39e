"""How long a part keeps on the shelf, and how its forecast was made: what stands beside an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.order_list import AGE_ON_THE_SHELF
from analytics.safety import has_sign
from dashboards import words
from dashboards.answers.rounding import on_average

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row

HOW = {
    "installed base": "Foretold from the parts in the cars: how long such parts last, how old each is, and which cars "
    "still come.",
    "pooled rate": "Foretold from its rate of use: what was used in the car-years seen, whatever the age of the parts.",
    "family rate": "Foretold from the rate of its family, because it was never used itself.",
}


OF_SALES = "Foretold from its sales alone: so many in the years seen, whatever the cars."
"""Said where no car that takes the part is known."""


def keeps(row: Row, until: date) -> str:
    """Say how long a part keeps, counted from the day it was made, and what that means for the oldest one here."""
    months, made = row.get("shelf_life_months"), row.get("oldest_made_on")
    if not months:
        if not has_sign(row["components"].lower(), AGE_ON_THE_SHELF):
            return ""
        return (
            "Rubber, brake and fuel parts age on the shelf too, and for this one no shelf life is stated: look at the "
            "day it was made, and use the oldest first."
        )
    told = f"Keeps {words.reach(months * words.DAYS_PER_YEAR / 12, 'age')} from the day it was made"
    if made is None:
        return f"{told}: look at that day, and use the oldest first."
    gone = (until - made).days / words.DAYS_PER_YEAR * 12
    said = words.reach((until - made).days, "age")
    if gone >= months:
        return f"{told}; the oldest on the shelf was made {said} ago and should not be fitted any more."
    return f"{told}; the oldest on the shelf was made {said} ago. Use the oldest first."


def how_foretold(row: Row) -> str:
    """Say by which method, and what its rate of use alone would say beside an installed base."""
    told = OF_SALES if "of sales" in row["basis"] else HOW.get(row["method"], "")
    point, beside = row["reorder_point"], row.get("rate_point")
    if beside is None or point is None:
        return told
    if beside == point:
        return f"{told} Its rate of use alone says the same."
    return f"{told} Its rate of use alone would keep {words.whole(beside)} in place of {words.whole(point)}."


def cars_behind(cars: pl.DataFrame) -> pl.DataFrame:
    """Return the cars behind a forecast in shown columns, those first from which most repairs are expected.

    Parameters
    ----------
    cars
        Rows of ``demand_car`` of one part; of safety-critical ones nothing is told to be expected (rule 39).
    """
    first = pl.col("expected") if cars["expected"].null_count() < cars.height else pl.col("presence") * pl.col("units")
    shown = cars.sort(first, pl.col("presence"), "vehicle_id", descending=[True, True, False], nulls_last=True).select(
        "vehicle_id",
        pl.col("units").alias("fitted there"),
        pl.col("presence").map_elements(words.of_hundred, return_dtype=pl.String).alias("still comes, likely"),
        pl.col("expected").map_elements(on_average, return_dtype=pl.Float64).alias("repairs expected"),
    )
    return shown.drop(["repairs expected"] if shown["repairs expected"].null_count() == shown.height else [])
