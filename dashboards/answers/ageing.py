"""How long a part keeps on the shelf, and how its forecast was made: what stands beside an order."""

from __future__ import annotations

from typing import TYPE_CHECKING

from analytics.order_list import AGE_ON_THE_SHELF
from analytics.safety import has_sign
from dashboards import words

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row

HOW = {
    "installed base": "Foretold from the parts in the cars: how long such parts last, how old each is, and which cars "
    "still come.",
    "pooled rate": "Foretold from its rate of use: what was used in the car-years seen, whatever the age of the parts.",
    "family rate": "Foretold from the rate of its family, because it was never used itself.",
}


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
    told = HOW.get(row["method"], "")
    point, beside = row["reorder_point"], row.get("rate_point")
    if beside is None or point is None:
        return told
    if beside == point:
        return f"{told} Its rate of use alone says the same."
    return f"{told} Its rate of use alone would keep {words.whole(beside)} in place of {words.whole(point)}."


def cars_behind(row: Row) -> list[str]:
    """Return the cars from which most failures are expected."""
    return [car for car in (row.get("likely_cars") or "").split("; ") if car]
