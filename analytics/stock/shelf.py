"""What is on the shelf, on order and reserved for a group, and how it is bought."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta
from typing import TYPE_CHECKING

import polars as pl

from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from collections.abc import Sequence

MOST_PARTS = 1_000_000.0
MOST_DAYS = 10 * DAYS_PER_YEAR
MOST_MONTHS = 1200.0
"""Figures beyond these are slips of the pen and are taken as these, so that sums stay sums."""

MOST_COST = 1e9
"""A cost beyond this is a slip of the pen and is taken as none: an order's sum would be spoilt by it."""


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
    aged
        Parts on the shelf beyond their shelf life; not among those on hand.
    ageing
        (parts, days until they are beyond it) of the batches on hand whose making is dated, the oldest first.
    old_numbers
        Parts on hand under numbers that were superseded.
    unit_cost, currency
        Price of one, of the live number; None where not stated.
    pledged, pledged_in_care
        Parts of a new batch promised to buyers whose cars are not in care, and to those whose cars are.
    supply_ends
        Whether a last day to order is stated.
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
    aged: float = 0.0
    ageing: tuple[tuple[float, float], ...] = ()
    old_numbers: float = 0.0
    unit_cost: float | None = None
    currency: str | None = None
    pledged: float = 0.0
    pledged_in_care: float = 0.0
    supply_ends: bool = False

    def due_within(self, horizon_days: float) -> float:
        """Return the parts on order that arrive within the horizon; an order without a day counts."""
        return sum(parts for parts, due in self.on_order if due is None or due <= horizon_days)

    def available(self, horizon_days: float, use_a_day: float) -> float:
        """Return parts on hand, plus those due within the horizon, less those reserved and those that age unused.

        Parameters
        ----------
        horizon_days
            Days until the delivery after this one.
        use_a_day
            Parts used a day, on average.
        """
        usable = (self.on_hand or 0.0) - self.ages_unused(horizon_days, use_a_day)
        return usable + self.due_within(horizon_days) - self.reserved

    def ages_unused(self, horizon_days: float, use_a_day: float) -> float:
        """Return the parts on hand that are not used before they age within the horizon, the oldest used first."""
        used = lost = 0.0
        for parts, days in self.ageing:
            if days < horizon_days:
                taken = min(parts, max(use_a_day * days - used, 0.0) // 1)
                used, lost = used + taken, lost + parts - taken
        return lost

    def ageing_within(self, horizon_days: float) -> float:
        """Return the parts on hand that are beyond their shelf life before the horizon ends."""
        return sum(parts for parts, days in self.ageing if days < horizon_days)


def shelf_of(members: pl.DataFrame, live_no: str, stock: pl.DataFrame, as_of: date, alike: Sequence[str] = ()) -> Shelf:
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
    alike
        Numbers that look the same and do not fit.
    """
    numbers = members["part_no"].unique().to_list()
    counts = newest_counts(stock.filter(pl.col("part_no").is_in([*numbers, live_no])), as_of)
    newest = counts.with_columns(pl.col("on_hand", "reserved", "on_order").clip(-MOST_PARTS, MOST_PARTS))
    live = members.filter(pl.col("part_no") == live_no)
    terms = live if live.height else members
    months = _first(terms, "shelf_life_months", MOST_MONTHS)
    batches = _with_days_left(newest, members, months, as_of)
    fresh = batches.filter(pl.col("days_left").is_null() | (pl.col("days_left") > 0))
    dated = fresh.filter(pl.col("days_left").is_not_null() & (pl.col("on_hand") > 0)).sort("days_left")
    return Shelf(
        on_hand=float(fresh["on_hand"].sum()) if newest.height else None,
        reserved=float(newest["reserved"].fill_null(0).sum()),
        on_order=_open_orders(newest, as_of),
        lead_time_days=_first(terms, "lead_time_days", MOST_DAYS),
        lead_time_p90_days=_first(terms, "lead_time_p90_days", MOST_DAYS),
        pack_size=max(1, int(_first(terms, "pack_size", MOST_PARTS) or 1)),
        minimum_order=max(1, int(_first(terms, "minimum_order", MOST_PARTS) or 1)),
        shelf_life_days=months * DAYS_PER_YEAR / 12 if months else None,
        looks_like="; ".join(alike) or None,
        aged=float(batches["on_hand"].sum()) - float(fresh["on_hand"].sum()),
        ageing=tuple(dated.select("on_hand", "days_left").iter_rows()),
        old_numbers=float(fresh.filter(pl.col("part_no") != live_no)["on_hand"].clip(0).sum()),
        unit_cost=figure(terms, "unit_cost", MOST_COST),
        currency=word(terms, "currency"),
        pledged=_first(members, "pledged", MOST_PARTS) or 0.0,
        pledged_in_care=_first(members, "pledged_in_care", MOST_PARTS) or 0.0,
        supply_ends="last_order_on" in terms.columns and terms["last_order_on"].count() > 0,
    )


def _with_days_left(newest: pl.DataFrame, members: pl.DataFrame, months: float | None, as_of: date) -> pl.DataFrame:
    """Add `days_left` until each batch is beyond its shelf life: its own number's, else the group's; null = never.

    Of a batch whose making is not dated nothing is known; it counts as fresh.
    """
    if "made_on" not in newest.columns or "shelf_life_months" not in members.columns:
        return newest.with_columns(days_left=pl.lit(None, dtype=pl.Float64))
    own = members.group_by("part_no").agg(months=pl.col("shelf_life_months").drop_nulls().first().clip(0, MOST_MONTHS))
    age = (pl.lit(as_of) - pl.col("made_on")).dt.total_days()
    kept = pl.coalesce("months", pl.lit(months, dtype=pl.Float64)) * DAYS_PER_YEAR / 12
    # a shelf life of 0 is one that nobody stated
    return newest.join(own, on="part_no", how="left").with_columns(days_left=pl.when(kept > 0).then(kept - age))


def _first(terms: pl.DataFrame, column: str, most: float) -> float | None:
    """Return the first value stated, from 0 to the most."""
    if column not in terms.columns:
        return None
    stated = terms[column].drop_nulls()
    return min(max(float(stated[0]), 0.0), most) if len(stated) else None


def newest_counts(stock: pl.DataFrame, as_of: date) -> pl.DataFrame:
    """Return the rows of each number's newest count up to a day, of feed table ``stock``."""
    counts = stock.filter(pl.col("counted_on") <= as_of)
    return counts.filter(pl.col("counted_on") == pl.col("counted_on").max().over("part_no"))


def figure(terms: pl.DataFrame, column: str, most: float) -> float | None:
    """Return the first figure stated, unless it is beyond the most or below nothing."""
    figures = terms[column].drop_nulls() if column in terms.columns else ()
    return next((float(stated) for stated in figures if 0 <= float(stated) <= most), None)


def word(terms: pl.DataFrame, column: str) -> str | None:
    """Return the first word stated."""
    if column not in terms.columns:
        return None
    words = [text.strip() for text in terms[column].drop_nulls() if text.strip()]
    return words[0] if words else None


def _open_orders(newest: pl.DataFrame, as_of: date) -> tuple[tuple[float, float | None], ...]:
    orders = newest.filter(pl.col("on_order").fill_null(0) > 0).select("on_order", "on_order_due")
    return tuple(
        (float(parts), None if due is None else max(timedelta(), due - as_of).days) for parts, due in orders.iter_rows()
    )
