"""What a pack less or more would mean: looked up in the demand distribution, never computed anew."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
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
                "asked for in vain": float(words.two(unmet).replace(words.THIN_SPACE, "")),
                "left over": float(words.two(left).replace(words.THIN_SPACE, "")),
                "costs": None if cost is None else f"{size * cost:,.2f} {row.get('currency') or ''}".strip(),
            }
        )
    shown = pl.DataFrame(rows, schema_overrides={"costs": pl.String})
    return shown.drop([*(["packs"] if pack == 1 else []), *(["costs"] if cost is None else [])])


def how_to_read(row: Row) -> str:
    """Say what the columns mean, and the smallest order where there is one."""
    least = row["minimum_order"] or 1
    told = f" The smallest order is {words.whole(least)}." if least > 1 else ""
    return (
        "Asked for in vain and left over: parts until the delivery after this one, on average. What is left over is "
        f"not lost, unless it ages on the shelf.{told}"
    )
