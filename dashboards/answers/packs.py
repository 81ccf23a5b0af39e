"""What a pack less or more would mean: looked up in the demand distribution, never computed anew."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.rounding import on_average
from dashboards.answers.shelf import held

if TYPE_CHECKING:
    from dashboards.answers.said import Row

STEPS = 10
"""Of a large order the next one is a tenth away, in whole packs: one part among fifty changes nothing to be seen."""


def packs_beside(row: Row, mass: pl.DataFrame, order: int) -> pl.DataFrame:
    """Return what the order means, and the next smaller and next larger one.

    Parameters
    ----------
    row
        Row of ``reorder`` of a part with a stock count.
    mass
        Its distribution over the lead time plus review, as from `shelf.at_horizon`.
    order
        Parts ordered.

    Returns
    -------
    polars.DataFrame
        Shown columns, the smallest order first: ordered, in packs of more than one the packs, in how many of 100
        outlooks the shelf runs out, parts asked for in vain and left over on average, and what is stated to be paid.
    """
    pack, least = row["pack_size"] or 1, row["minimum_order"] or 1
    step = pack * max(1, round(order / STEPS / pack))
    smaller = order - step if order - step >= least else 0
    sizes = sorted({smaller, order, max(order + step, math.ceil(least / pack) * pack)})
    can, cost = held(row) or 0.0, row.get("unit_cost")
    needed, chance = pl.col("quantity"), pl.col("probability") / mass["probability"].sum()
    rows = []
    for size in sizes:
        over = needed - (can + size)
        short, unmet, left = mass.select(
            chance.filter(over > 0).sum().alias("short"),
            (over.clip(0) * chance).sum().alias("unmet"),
            ((-over).clip(0) * chance).sum().alias("left"),
        ).row(0)
        rows.append(
            {
                "ordered": size,
                "packs": size // pack,
                "runs out in": words.of_hundred(short),
                "asked for in vain": on_average(unmet),
                "left over": on_average(left),
                "costs": _cost(None if cost is None else size * cost, row.get("currency")),
            }
        )
    shown = pl.DataFrame(rows, schema_overrides={"costs": pl.String})
    return shown.drop([*(["packs"] if pack == 1 else []), *(["costs"] if cost is None else [])])


def choices_told(choices: pl.DataFrame, row: Row) -> pl.DataFrame:
    """Return what the snapshot says of ordering nothing, a pack less, what is advised, and a pack more.

    Parameters
    ----------
    choices
        Rows of ``order_choice`` of one part.
    row
        Its row of ``reorder``.
    """
    shown = pl.DataFrame(
        [
            {
                "ordered": choice["quantity"],
                "packs": choice["packs"],
                "runs out in": words.of_hundred(choice["p_short"]),
                "asked for in vain": on_average(choice["expected_short"]),
                "left over": on_average(choice["expected_left"]),
                "lasts": _lasts(choice["lasts_months"]),
                "some ages in": None if choice["p_aged"] is None else words.of_hundred(choice["p_aged"]),
                "costs": _cost(choice["cost"], row.get("currency")),
            }
            for choice in choices.sort("quantity", "choice").iter_rows(named=True)
        ],
        schema_overrides={"some ages in": pl.String, "costs": pl.String},
    )
    empty = [name for name in ("some ages in", "costs") if shown[name].null_count() == shown.height]
    return shown.unique("ordered", keep="first", maintain_order=True).drop(
        empty, *(["packs"] if (row["pack_size"] or 1) == 1 else [])
    )


def _lasts(months: float | None) -> str:
    return "over 2 years" if months is None else words.reach(months * words.DAYS_PER_YEAR / 12, "age")


def _cost(cost: float | None, currency: str | None) -> str | None:
    return None if cost is None else f"{cost:,.2f} {currency or ''}".strip()


def how_to_read(row: Row, order: int) -> str:
    """Say what the columns mean, and the smallest order where there is one."""
    least = row["minimum_order"] or 1
    told = f" The smallest order is {words.whole(least)}." if least > 1 else ""
    if 0 < order < least:
        told += " This one is less, so that it is used before it ages: ask for fewer, or some may be lost."
    return (
        "Asked for in vain and left over: parts until the delivery after this one, on average; lasts: until all is "
        f"used in half of the outlooks. What is left over is not lost, unless it ages on the shelf.{told}"
    )
