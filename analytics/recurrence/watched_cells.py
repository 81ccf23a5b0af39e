"""Time watched before and after a modification, cut by calendar year and by the time since the last renewal."""

from __future__ import annotations

import polars as pl

KEY = ["component", "kind", "modification"]
SLOT = [*KEY, "vehicle_id", "position"]
SINCE_DAYS = (0, 365, 1096, 2192, 10**7)
"""A part fails less, or more, often soon after it was renewed: one, three and six years after."""
NEVER = len(SINCE_DAYS) - 1
"""Number of the time in which no renewal has been seen since the car joined."""


def watched_cells(
    modifications: pl.DataFrame, faults: pl.DataFrame, watch: pl.DataFrame, renewals: pl.DataFrame
) -> pl.DataFrame:
    """Return the time watched and the failures of every position of a component that some cars had modified.

    Parameters
    ----------
    modifications, faults, watch, renewals
        As for `before_after`.

    Returns
    -------
    polars.DataFrame
        `component`, `kind`, `modification`, `vehicle_id`, `position`, `series`, `ever` (modified at some time),
        `modified`, `year`, `since` (0, 1, 2... by `SINCE_DAYS`, or `NEVER`), `days`, `failures`.

    Notes
    -----
    Unmodified time ends on the day the car came in for the modification, the failure found on that visit included;
    modified time begins at the hand-over. Parts that wear out seldom fail soon after they were renewed, whatever the
    design: so time is told apart by how long ago that was.
    """
    windows = _windows(modifications, watch)
    failed = faults.filter("used").select("vehicle_id", "component", "position", day="visit_day").unique()
    place = ["vehicle_id", "component", "position"]
    slots = windows.select(*SLOT, "change_day").unique()
    failed = slots.join(failed, on=place)
    resets = slots.join(renewals.select(*place, "day").unique(), on=place).select(*SLOT, "day", reset="day").sort("day")
    time = _by_year(_by_since(_stretches(windows, resets)))
    sums = time.group_by(*SLOT, "modified", "year", "since").agg(pl.col("days").sum())
    counts = _failures(failed, windows, resets)
    cell = [*SLOT, "modified", "year", "since"]
    facts = windows.select(*SLOT, "series", "ever").unique()
    return (
        pl.concat([sums.with_columns(failures=pl.lit(0, dtype=pl.Int64)), counts], how="diagonal")
        .group_by(cell)
        .agg(pl.col("days").sum(), pl.col("failures").sum())
        .join(facts, on=SLOT, how="left")
        .sort(cell)
    )


def _windows(modifications: pl.DataFrame, watch: pl.DataFrame) -> pl.DataFrame:
    """Return `begin`, `finish`, `modified` of every position, unmodified and modified."""
    slots = (
        modifications.select(KEY)
        .unique()
        .join(watch.select("component", "vehicle_id", "position", "series", "start_on", "end_on"), on="component")
        .join(modifications.rename({"visit_day": "change_day"}), on=SLOT, how="left")
        .with_columns(ever=pl.col("from_on").is_not_null())
    )
    unmodified = slots.with_columns(
        begin="start_on", finish=pl.min_horizontal("from_on", "end_on"), modified=pl.lit(value=False)
    )
    modified = slots.filter("ever").with_columns(
        begin=pl.max_horizontal("to_on", "start_on"),
        finish=pl.min_horizontal("until_on", "end_on"),
        modified=pl.lit(value=True),
    )
    kept = [*SLOT, "series", "ever", "change_day", "modified", "begin", "finish"]
    return pl.concat([unmodified.select(kept), modified.select(kept)]).filter(pl.col("finish") > pl.col("begin"))


def _stretches(windows: pl.DataFrame, resets: pl.DataFrame) -> pl.DataFrame:
    """Cut the windows at every renewal; `reset` is the last one before a stretch, null if there is none."""
    inside = windows.join(resets.drop("reset"), on=SLOT, how="inner").filter(
        (pl.col("day") > pl.col("begin")) & (pl.col("day") < pl.col("finish"))
    )
    starts = pl.concat([windows.with_columns(day="begin").select(inside.columns), inside]).sort("day")
    cut = starts.join_asof(resets, on="day", by=SLOT, strategy="backward", check_sortedness=False)
    following = pl.col("day").shift(-1).over([*SLOT, "modified"])
    return cut.with_columns(to=pl.coalesce(following, "finish")).rename({"day": "from"})


def _by_since(stretches: pl.DataFrame) -> pl.DataFrame:
    """Cut the stretches by the time since the last failure or renewal."""
    bands = pl.DataFrame(
        {"since": list(range(NEVER)), "least": SINCE_DAYS[:-1], "most": SINCE_DAYS[1:]},
        schema_overrides={"since": pl.Int64},
    )
    gone = {name: (pl.col(name) - pl.col("reset")).dt.total_days() for name in ("from", "to")}
    known = stretches.drop_nulls("reset").join(bands, how="cross")
    low, high = pl.max_horizontal(gone["from"], "least"), pl.min_horizontal(gone["to"], "most")
    cut = known.filter(high > low).with_columns(
        **{"from": pl.col("reset") + pl.duration(days=low), "to": pl.col("reset") + pl.duration(days=high)}
    )
    never = stretches.filter(pl.col("reset").is_null()).with_columns(since=pl.lit(NEVER, dtype=pl.Int64))
    return pl.concat([cut.select(never.columns), never])


def _by_year(stretches: pl.DataFrame) -> pl.DataFrame:
    """Cut the stretches at the turn of the year."""
    years = pl.int_ranges(pl.col("from").dt.year().cast(pl.Int64), pl.col("to").dt.year().cast(pl.Int64) + 1)
    each = stretches.with_columns(year=years).explode("year", empty_as_null=False)
    first, last = pl.date(pl.col("year"), 1, 1), pl.date(pl.col("year") + 1, 1, 1)
    days = (pl.min_horizontal("to", last) - pl.max_horizontal("from", first)).dt.total_days()
    return each.with_columns(days=days).filter(pl.col("days") > 0)


def _failures(failed: pl.DataFrame, windows: pl.DataFrame, resets: pl.DataFrame) -> pl.DataFrame:
    """Return the failures of each cell; the one that led to a modification belongs to the time before."""
    ends = windows.select(*SLOT, "modified", "begin", "finish")
    after = pl.col("day") > pl.col("change_day")
    inside = (
        failed.join(ends, on=SLOT, how="inner")
        .filter(pl.col("day").is_between("begin", "finish") & (pl.col("modified") == after.fill_null(value=False)))
        .sort("day")
        .join_asof(resets, on="day", by=SLOT, strategy="backward", allow_exact_matches=False, check_sortedness=False)
    )
    gone = (pl.col("day") - pl.col("reset")).dt.total_days()
    band = sum(((gone > least).cast(pl.Int64) for least in SINCE_DAYS[1:-1]), start=pl.lit(0, dtype=pl.Int64))
    return (
        inside.with_columns(since=band.fill_null(NEVER), year=pl.col("day").dt.year().cast(pl.Int64))
        .group_by(*SLOT, "modified", "year", "since")
        .agg(failures=pl.len().cast(pl.Int64))
    )
