"""What is on the shelf, on order and reserved for a group, and how it is bought."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

import polars as pl

from analytics.scales import DAYS_PER_YEAR

MOST_PARTS = 1_000_000.0
MOST_DAYS = 10 * DAYS_PER_YEAR
MOST_MONTHS = 1200.0
"""Figures beyond these are slips of the pen and are taken as these, so that sums stay sums."""


@dataclass(frozen=True, slots=True)
class Shelf:
    """Stock and terms of one interchangeable group.

    Attributes
    ----------
    on_hand, reserved
        Parts; `on_hand` is None where nothing was ever counted.
    on_order
        (parts, days until due or None) per open order.
    lead_time_days, lead_time_p90_days
        Of the live number, days; None where not stated.
    pack_size, minimum_order
        Parts, at least 1.
    shelf_life_days
        None where it does not age.
    looks_like
        Numbers that look the same and do not fit, joined by ``; ``, or None.
    """

    on_hand: float | None
    reserved: float
    on_order: tuple[tuple[float, float | None], ...]
    lead_time_days: float | None
    lead_time_p90_days: float | None
    pack_size: int
    minimum_order: int
    shelf_life_days: float | None
    looks_like: str | None

    def due_within(self, horizon_days: float) -> float:
        """Return the parts on order that arrive within the horizon; an order without a day counts."""
        return sum(parts for parts, due in self.on_order if due is None or due <= horizon_days)

    def available(self, horizon_days: float) -> float:
        """Return parts on hand, plus those due within the horizon, less those reserved."""
        return (self.on_hand or 0.0) + self.due_within(horizon_days) - self.reserved


def shelf_of(members: pl.DataFrame, live_no: str, stock: pl.DataFrame, as_of: date) -> Shelf:
    """Add up the newest counts of a group's numbers and take the terms of its live number.

    Parameters
    ----------
    members
        Catalogue rows of the group, feed table ``parts``.
    live_no
        Number under which the group is ordered.
    stock
        Feed table ``stock``.
    as_of
        A count after this day does not count.
    """
    numbers = members["part_no"].unique().to_list()
    counts = stock.filter(pl.col("part_no").is_in([*numbers, live_no]) & (pl.col("counted_on") <= as_of))
    newest = counts.filter(pl.col("counted_on") == pl.col("counted_on").max().over("part_no")).with_columns(
        pl.col("on_hand", "reserved", "on_order").clip(-MOST_PARTS, MOST_PARTS)
    )
    live = members.filter(pl.col("part_no") == live_no)
    terms = live if live.height else members
    months = _first(terms, "shelf_life_months", MOST_MONTHS)
    return Shelf(
        on_hand=float(newest["on_hand"].sum()) if newest.height else None,
        reserved=float(newest["reserved"].fill_null(0).sum()),
        on_order=_open_orders(newest, as_of),
        lead_time_days=_first(terms, "lead_time_days", MOST_DAYS),
        lead_time_p90_days=_first(terms, "lead_time_p90_days", MOST_DAYS),
        pack_size=max(1, int(_first(terms, "pack_size", MOST_PARTS) or 1)),
        minimum_order=max(1, int(_first(terms, "minimum_order", MOST_PARTS) or 1)),
        shelf_life_days=months * DAYS_PER_YEAR / 12 if months else None,
        looks_like=_look_alikes(members, numbers),
    )


def _first(terms: pl.DataFrame, column: str, most: float) -> float | None:
    """Return the first value stated, from 0 to the most."""
    if column not in terms.columns:
        return None
    stated = terms[column].drop_nulls()
    return min(max(float(stated[0]), 0.0), most) if len(stated) else None


def _open_orders(newest: pl.DataFrame, as_of: date) -> tuple[tuple[float, float | None], ...]:
    orders = newest.filter(pl.col("on_order").fill_null(0) > 0).select("on_order", "on_order_due")
    return tuple(
        (float(parts), None if due is None else max(timedelta(), due - as_of).days) for parts, due in orders.iter_rows()
    )


def _look_alikes(members: pl.DataFrame, own: list[str]) -> str | None:
    if "looks_like" not in members.columns:
        return None
    named = {
        number.strip() for text in members["looks_like"].drop_nulls().unique() for number in str(text).split(";")
    } - {"", *own}
    return "; ".join(sorted(named)) or None
