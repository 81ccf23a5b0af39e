"""All parts in one list, what to order first on top."""

from __future__ import annotations

import polars as pl

from dashboards import words
from dashboards.answers.shelf import HIGHEST_LEVEL, OUTLOOKS, UNKNOWN

BY_COSTS = "as surely as the costs of each part ask for"

TO_COUNT_ON = pl.max_horizontal(
    pl.lit(0.0), pl.col("on_hand") + pl.col("on_order").fill_null(0.0) - pl.col("reserved").fill_null(0.0)
)
"""As `shelf.held` of a snapshot that does not tell it, for a whole frame."""


def order_first(groups: pl.DataFrame, demand: pl.DataFrame) -> pl.DataFrame:
    """Put first what to order, by how often the shelf runs out of it; then what nobody counted, by its use.

    Parameters
    ----------
    groups, demand
        Rows of ``reorder`` and ``demand``.

    Returns
    -------
    polars.DataFrame
        The rows of ``reorder`` in that order, and short: in how many of 20 outlooks the shelf runs out before the
        next delivery, null without a stock count or a forecast.
    """
    known = [pl.col("available").clip(0)] if "available" in groups.columns else []
    can = pl.coalesce(*known, TO_COUNT_ON)
    counted = groups.filter(pl.col("on_hand").is_not_null()).select("part_no", "horizon_days", can=can)
    within = demand.join(counted, on=["part_no", "horizon_days"]).group_by("part_no")
    enough = within.agg(enough=pl.col("probability").filter(pl.col("quantity") <= pl.col("can")).sum())
    short = OUTLOOKS - (pl.col("enough") * OUTLOOKS + 0.5 + 1e-9).floor().cast(pl.Int64)
    ranked = groups.join(enough.select("part_no", short=short), on="part_no", how="left")
    turn = (
        pl.when(pl.col("order_quantity").fill_null(0) > 0)
        .then(0)
        .when(pl.col("on_hand").is_null() & pl.col("use_per_month").is_not_null())
        .then(1)
        .otherwise(2)
    )
    by = [turn, pl.col("short"), pl.col("use_per_month"), pl.col("part_no")]
    return ranked.sort(by, descending=[False, True, True, False], nulls_last=True)


FIRST = 3
"""Parts named in short."""


def in_short(ranked: pl.DataFrame) -> str:
    """Say how many parts are to be ordered now and which come first; nothing where no stock was ever counted.

    Parameters
    ----------
    ranked
        As from `order_first`.
    """
    if ranked["on_hand"].null_count() == ranked.height:
        return ""
    wanted, untold = ranked.filter(pl.col("order_quantity") > 0), ranked["order_quantity"].null_count()
    none = f" Of {words.count(untold, 'part')} no order can be told." if untold else ""
    if wanted.is_empty():
        return f"No part is to be ordered now.{none}"
    first = [
        f"{row['order_quantity']:,} of {row['part_no'] if row['components'] == UNKNOWN else row['components']}"
        for row in wanted.head(FIRST).iter_rows(named=True)
    ]
    be, rest = "is" if wanted.height == 1 else "are", ", first" if wanted.height > len(first) else ""
    of = f"{words.first_up(words.count(wanted.height, 'part'))} of {ranked.height:,} {be} to be ordered now"
    return f"{of}{rest}: {', '.join(first)}.{none}"


def listed(ranked: pl.DataFrame) -> pl.DataFrame:
    """Return the list in shown columns; of shelf and orders only what somebody stated."""
    shown = ranked.select(
        "part_no",
        pl.when(pl.col("components") != UNKNOWN).then("components").alias("serves"),
        pl.col("use_per_month").round_sig_figs(2).alias("a month"),
        pl.col("on_hand").alias("on hand"),
        pl.col("reserved").alias("reserved"),
        pl.col("on_order").alias("on order"),
        pl.col("reorder_point").alias("reorder point"),
        pl.col("order_quantity").alias("order"),
        pl.when(pl.col("short").is_not_null()).then(pl.format("{} of 20", "short")).alias("runs out in"),
    )
    stated = {name: ranked[name].fill_null(0).sum() != 0 for name in ("reserved", "on_order")}
    uncounted = ["on hand", "order", "runs out in"] if ranked["on_hand"].null_count() == ranked.height else []
    unserved = ["serves"] if shown["serves"].null_count() == shown.height else []
    return shown.drop([name.replace("_", " ") for name, any_ in stated.items() if not any_], uncounted, unserved)


def how_to_read(ranked: pl.DataFrame) -> list[str]:
    """Say what the columns mean, and what to load where an order cannot be told."""
    levels = ranked["service_level"].unique()
    keeps = f"in {words.part_of(min(levels[0], HIGHEST_LEVEL))} outlooks" if len(levels) == 1 else BY_COSTS
    told = [f"Reorder point: what lasts until the delivery after this one {keeps}. A month: the use so far."]
    uncounted = ranked["on_hand"].null_count()
    if uncounted:
        some = f"{uncounted} of {ranked.height} parts {'has' if uncounted == 1 else 'have'} no"
        which = "No part has a" if uncounted == ranked.height else some
        told.append(
            f"{which} stock count: load a table stock with part_no, counted_on and on_hand to see what to order."
        )
    return told
