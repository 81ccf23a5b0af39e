"""What an order needs besides a quantity: where the part fits, who sells it, what it costs, how long it keeps."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.stock.shelf import MOST_COST, MOST_DAYS, MOST_MONTHS, figure, newest_counts, word

if TYPE_CHECKING:
    from datetime import date

EVERY_SERIES = "all"
"""Said where the parts list names a part without a series."""


def terms_of(members: pl.DataFrame, live_no: str, stock: pl.DataFrame, as_of: date) -> dict[str, object]:
    """Return the columns of table ``reorder`` that an order needs besides its quantity.

    Parameters
    ----------
    members
        The group's rows of feed table ``parts``, none of numbers that are only known from use.
    live_no
        Number under which the group is ordered.
    stock
        Feed table ``stock`` of the group's numbers.
    as_of
        A count after this day does not count.

    Returns
    -------
    dict[str, object]
        `fits`, `also_numbers`, `supplier`, `lead_time_days`, `unit_cost`, `currency`, `shelf_life_months`,
        `counted_on`, `oldest_made_on`; None where nothing states it.

    Notes
    -----
    Series are those of every number of the group, for each of them is served by the live one; the terms are those of
    the live number alone. A currency is told only beside a cost.
    """
    live = members.filter(pl.col("part_no") == live_no)
    cost = figure(live, "unit_cost", MOST_COST)
    newest = newest_counts(stock, as_of)
    return {
        "fits": _fits(members),
        "also_numbers": "; ".join(sorted({*members["part_no"]} - {live_no})) or None,
        "supplier": word(live, "supplier"),
        "lead_time_days": figure(live, "lead_time_days", MOST_DAYS),
        "unit_cost": cost,
        "currency": word(live, "currency") if cost is not None else None,
        "shelf_life_months": figure(live, "shelf_life_months", MOST_MONTHS),
        "counted_on": newest["counted_on"].min(),
        "oldest_made_on": _oldest(newest),
    }


def _fits(members: pl.DataFrame) -> str | None:
    if members.is_empty() or "series" not in members.columns:
        return None
    series = members["series"].unique().sort()
    return EVERY_SERIES if series.null_count() else "; ".join(series.to_list())


def _oldest(newest: pl.DataFrame) -> object:
    """Return the day that the oldest batch on the shelf was made."""
    if "made_on" not in newest.columns:
        return None
    return newest.filter(pl.col("on_hand") > 0)["made_on"].min()
