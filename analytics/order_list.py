"""The order list: what to order now, by supplier, one row per part."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import count
from analytics.errors import SnapshotError
from analytics.safety import SIGNS, has_sign
from analytics.snapshot import TABLES, open_snapshot, read_table, safety_critical

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path
    from typing import Any

NO_SUPPLIER = "no supplier stated"
OLD_COUNT_DAYS = 90
"""A count of the shelf older than this is asked for anew (common practice, no source)."""

AGE_ON_THE_SHELF = (
    *(*SIGNS["brakes"], *SIGNS["fuel"], "rubber", "seal", "hose", "boot", "bush", "diaphragm", "gasket"),
    *("cylinder", "caliper"),
)
"""Beginnings of words by which a part that ages on the shelf is recognised where no shelf life is stated."""

SAFETY = (
    "Safety-critical: a part on the shelf is no leave to run the fitted one longer; inspect by the maker's manual and "
    "have a qualified person fit it."
)
SHOWN = {
    "part_no": "part",
    "components": "serves",
    "fits": "fits series",
    "order_quantity": "order",
    "packs": "packs",
    "pack_size": "pack of",
    "unit_cost": "unit cost",
    "cost": "sum",
    "currency": "currency",
    "lead_time_days": "lead time, days",
    "due": "delivery about",
    "on_hand": "on hand",
    "reserved": "reserved",
    "on_order": "on order",
    "available": "can be counted on",
    "reorder_point": "reorder point",
    "counted_on": "counted on",
    "also_numbers": "replaces",
    "looks_like": "looks alike, does not fit",
    "reason": "why",
    "check": "check first",
}
"""Headings of the list, after the supplier's, by column."""

UNTOLD = ("part_no", "components", "reorder_point", "on_hand", "reason", "check")
"""Columns of a part of which no order can be told."""

MOST_LINES = 10
"""Such parts are printed up to so many; a file holds all of them."""


@dataclass(frozen=True, slots=True)
class OrderList:
    """What to order now.

    Attributes
    ----------
    rows
        One row per part, by supplier and part number; columns `supplier` and the headings of `SHOWN`.
    name
        The snapshot it comes from.
    as_of
        Last day that counted.
    service_level
        Chance of no shortage that the reorder points are for; in words where costs set one for each part.
    parts, uncounted
        Parts known, and those of them without a stock count, of which nothing can be ordered.
    untold
        Parts of which no order can be told, without a count or with too little to say; `UNTOLD` headings of `SHOWN`.
    """

    rows: pl.DataFrame
    name: str
    as_of: date
    service_level: float | str
    parts: int
    uncounted: int
    untold: pl.DataFrame

    def by_supplier(self) -> pl.DataFrame:
        """Return `supplier`, `currency`, `parts`, `pieces`, `sum`, `without a cost` and `lead time, days`, the longest.

        One row per supplier and currency; what no cost is stated for is in no sum.
        """
        return (
            self.rows.group_by("supplier", "currency", maintain_order=True)
            .agg(
                pl.len().cast(pl.Int64).alias("parts"),
                pl.col("order").sum().alias("pieces"),
                pl.when(pl.col("sum").count() > 0).then(pl.col("sum").sum()).alias("sum"),
                pl.col("sum").null_count().cast(pl.Int64).alias("without a cost"),
                pl.col("lead time, days").max(),
            )
            .sort("supplier", "currency", nulls_last=True)
        )

    def told(self) -> list[tuple[str, str | date | float]]:
        """Return what must be known to read the list, as names and values."""
        return [
            ("as of", self.as_of),
            ("snapshot", self.name),
            ("service level", self.service_level),
            ("parts to order", self.rows.height),
            ("parts known", self.parts),
            ("of these without a stock count, so not in the list", self.uncounted),
            ("reorder point", "what lasts until the delivery after this one, with the chance of the service level"),
            ("delivery about", "the day of the snapshot and the usual lead time; half of all deliveries are later"),
            ("numbers", "a number under looks alike does not fit, whatever it looks like"),
            ("safety", SAFETY),
        ]


def order_list(snapshot: Path) -> OrderList:
    """Return what to order now.

    Parameters
    ----------
    snapshot
        File of a snapshot.

    Raises
    ------
    SnapshotError
        If no stock was ever counted, so that no order can be told.
    """
    with closing(open_snapshot(snapshot)) as connection:
        reorder = _whole(read_table(connection, "reorder"), "reorder")
        named = dict(read_table(connection, "meta").select("name", "value").iter_rows())
        critical = safety_critical(connection)
    uncounted = reorder["on_hand"].null_count()
    if uncounted == reorder.height:
        raise SnapshotError(
            "no part has a stock count, so no order can be told",
            where="restock",
            next_step="load a table stock with part_no, counted_on and on_hand, then run: wearledger analyse",
        )
    as_of = date.fromisoformat(named["as_of"])
    checks = [check_first(row, critical, as_of) for row in reorder.iter_rows(named=True)]  # a row per part
    reorder = reorder.with_columns(check=pl.Series(checks, dtype=pl.String))
    wanted = reorder.filter(pl.col("order_quantity") > 0)
    rows = (
        wanted.with_columns(
            pl.col("supplier").fill_null(NO_SUPPLIER),
            packs=pl.col("order_quantity") // pl.col("pack_size").fill_null(1).clip(1),
            cost=(pl.col("order_quantity") * pl.col("unit_cost")).round(2),
            due=pl.lit(as_of) + pl.duration(days=pl.col("lead_time_days").ceil().cast(pl.Int64)),
        )
        .sort(pl.col("supplier") == NO_SUPPLIER, "supplier", "part_no")
        .select("supplier", *(pl.col(column).alias(heading) for column, heading in SHOWN.items()))
    )
    levels = reorder["service_level"].unique().sort()
    level = float(levels[0]) if len(levels) == 1 else f"{levels[0]:.2g} to {levels[-1]:.2g}, by the costs of each part"
    untold = (
        reorder.filter(pl.col("order_quantity").is_null())
        .sort("part_no")
        .select(pl.col("supplier").fill_null(NO_SUPPLIER), *(pl.col(column).alias(SHOWN[column]) for column in UNTOLD))
    )
    return OrderList(rows, snapshot.stem, as_of, level, reorder.height, uncounted, untold)


def check_first(row: dict[str, Any], critical: Iterable[str], as_of: date) -> str | None:
    """Return what to look at before a part is ordered and put on the shelf.

    Parameters
    ----------
    row
        Row of table ``reorder``.
    critical
        Names of the safety-critical components.
    as_of
        Last day that counted.

    Notes
    -----
    A shelf life counts from the day a part was made, not from the day it came; where none is stated, parts that are
    known to age on the shelf by their name are told.
    """
    served = [name.strip() for name in row["components"].split(";")]
    days = (as_of - row["counted_on"]).days if row["counted_on"] else 0
    months = row["shelf_life_months"]
    few, aged = _too_few(row), row["on_hand_aged"] or 0.0
    told = {
        f"Looks alike and does not fit: {row['looks_like']}.": bool(row["looks_like"]),
        f"Counted {days} days before: count again.": days > OLD_COUNT_DAYS,
        f"{aged:g} on the shelf past their shelf life are not counted: take them out, and fit none of them.": aged > 0,
        f"Keeps {months or 0:g} months from the day it was made: look at that day, and use the oldest first.": bool(
            months
        ),
        "No shelf life is stated, and such parts age on the shelf too: look at the day it was made.": not months
        and has_sign(row["components"].lower(), AGE_ON_THE_SHELF),
        few: bool(few),
        SAFETY: bool(set(served) & set(critical)),
    }
    return " ".join(text for text, holds in told.items() if holds) or None


def _too_few(row: dict[str, Any]) -> str:
    """Say so where an order was cut below what the supplier sells, because more would age on the shelf."""
    least = row["minimum_order"] or 1
    if row["order_quantity"] is None or row["order_quantity"] >= least or row["order_quantity"] == 0:
        return ""
    return (
        f"The smallest order is {least:,}, more than is used before it ages: ask for fewer, or expect some to be lost."
    )


def sentences(orders: OrderList) -> list[str]:
    """Return the list as lines of text: each supplier with its parts, then what is not in it."""
    lines = [f"as of {orders.as_of}: {count(orders.rows.height, 'part')} to order of {orders.parts:,} known"]
    for supplier, rows in orders.rows.group_by("supplier", maintain_order=True):
        lines.append(f"{supplier[0]}{_sums(rows)}")
        lines += [
            f"  {row['order']:>5,} of {row['part']}, {row['serves']}{_fits(row)}: {row['why']}"
            + (f" {row['check first']}" if row["check first"] else "")
            for row in rows.iter_rows(named=True)
        ]
    untold = orders.untold.head(MOST_LINES)
    if untold.height:
        more = orders.untold.height - untold.height
        lines.append(f"no order can be told of {count(orders.untold.height, 'part')}:")
        lines += [f"  {row['part']}, {row['serves']}: {row['why']}" for row in untold.iter_rows(named=True)]
        lines += [f"  and {more:,} more, all of them in a file: restock --to FILE.xlsx"] if more else []
    return lines


def _fits(row: dict[str, Any]) -> str:
    return f" (series {row['fits series']})" if row["fits series"] else ""


def _sums(rows: pl.DataFrame) -> str:
    """Return what a supplier's parts cost, by currency."""
    costs = rows.filter(pl.col("sum").is_not_null()).group_by("currency").agg(pl.col("sum").sum()).sort("currency")
    told = " and ".join(f"{total:,.2f} {currency or '(no currency stated)'}" for currency, total in costs.rows())
    return f", {told}" if told else ""


def _whole(frame: pl.DataFrame, name: str) -> pl.DataFrame:
    """Return a table with every declared column, null where an older snapshot lacks it, and no number that is none."""
    lacking = [pl.lit(None, dtype=c.dtype).alias(c.name) for c in TABLES[name].columns if c.name not in frame.columns]
    return frame.with_columns(lacking).with_columns(pl.selectors.float().fill_nan(None))
