"""Where a curve may start: five at risk after the last gap (rule 32), or five cars watched throughout."""

from __future__ import annotations

import polars as pl


def curve_starts(spells: pl.DataFrame, by: list[str], least: int) -> pl.DataFrame:
    """Return, per group, the first time at which enough units are watched after the last gap, and the next gap.

    Parameters
    ----------
    spells
        `entry`, `exit`, `event` and the `by` columns; rows of (`entry`, `exit`].
    by
        Grouping columns.
    least
        Units that must be at risk.

    Returns
    -------
    polars.DataFrame
        `by` columns, `start`, and `end`: the gap at which the curve ends, null if none; groups that never have so
        many at risk are absent.

    Notes
    -----
    A gap is a time after which nobody is left at risk while later entries exist, or at which everyone at
    risk fails: a product past it would carry a survival of 0. The last gap is the last one after which enough
    units are watched again; a few stragglers beyond a later gap do not take the curve away, they end it.
    """
    deltas = pl.concat(
        [
            spells.group_by(*by, time="entry").agg(
                into=pl.len(), out=pl.lit(0, dtype=pl.UInt32), failed=pl.lit(0, dtype=pl.Int64)
            ),
            spells.group_by(*by, time="exit").agg(
                into=pl.lit(0, dtype=pl.UInt32), out=pl.len(), failed=pl.col("event").sum().cast(pl.Int64)
            ),
        ]
    )
    steps = (
        deltas.group_by(*by, "time")
        .agg(pl.col("into", "out").sum().cast(pl.Int64), pl.col("failed").sum())
        .sort(*by, "time")
        .with_columns(after=(pl.col("into") - pl.col("out")).cum_sum().over(by))
        .with_columns(before=pl.col("after") + pl.col("out") - pl.col("into"))
    )
    last = pl.col("time").max().over(by)
    emptied = (pl.col("after") == 0) | ((pl.col("failed") > 0) & (pl.col("failed") == pl.col("before")))
    steps = steps.with_columns(is_gap=emptied & (pl.col("time") < last), enough=pl.col("after") >= least)
    last_enough = pl.when("enough").then("time").max().over(by)
    last_gap = pl.when(pl.col("is_gap") & (pl.col("time") <= last_enough)).then("time").max().over(by)
    steps = steps.with_columns(last_gap=last_gap)
    starts = (
        steps.filter(pl.col("enough") & (pl.col("time") >= pl.col("last_gap").fill_null(pl.col("time"))))
        .group_by(by)
        .agg(start=pl.col("time").min())
    )
    ends = (
        steps.join(starts, on=by, how="inner")
        .filter(pl.col("is_gap") & (pl.col("time") > pl.col("start")))
        .group_by(by)
        .agg(end=pl.col("time").min())
    )
    return starts.join(ends, on=by, how="left").sort(by)


def well_watched(windows: pl.DataFrame, by: list[str], least: int) -> pl.DataFrame:
    """Return, per group, the stretch in which enough cars are watched throughout.

    Parameters
    ----------
    windows
        `begin`, `finish` and the `by` columns, a row per car: watched in (`begin`, `finish`].
    by
        Grouping columns.
    least
        Cars that must be watched.

    Returns
    -------
    polars.DataFrame
        `by` columns, `start`, `end`: of several such stretches the one with most car-time, of equals the first, so
        that no failure has a say in it. Groups that never have so many cars are absent.
    """
    deltas = pl.concat(
        [
            windows.select(*by, time="begin", change=pl.lit(1, dtype=pl.Int64)),
            windows.select(*by, time="finish", change=pl.lit(-1, dtype=pl.Int64)),
        ]
    )
    steps = (
        deltas.group_by(*by, "time")
        .agg(pl.col("change").sum())
        .sort(*by, "time")
        .with_columns(cars=pl.col("change").cum_sum().over(by), until=pl.col("time").shift(-1).over(by))
        .with_columns(enough=pl.col("cars") >= least)
        .with_columns(stretch=(~pl.col("enough")).cum_sum().over(by))
    )
    return (
        steps.filter("enough")
        .group_by(*by, "stretch")
        .agg(
            start=pl.col("time").min(),
            end=pl.col("until").max(),
            watched=(pl.col("cars") * (pl.col("until") - pl.col("time"))).sum(),
        )
        .sort(*by, "watched", "start", descending=[*[False] * len(by), True, False])
        .unique(by, keep="first", maintain_order=True)
        .select(*by, "start", "end")
    )
