"""Failures per car so far, by the car's own age or distance: mean cumulative curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import mean_cumulative_function
from analytics.recurrence.curve_start import well_watched

if TYPE_CHECKING:
    from analytics.parameters import Parameters

GROUP = ["component", "grouping", "level", "scale"]


def mean_cumulative(faults: pl.DataFrame, watch: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the mean cumulative number of failures per car for each component, series and position.

    Parameters
    ----------
    faults
        `vehicle_id`, `series`, `component`, `position`, `position_stated`, `scale`, `at`: where on the car's scale
        it failed; used failures only.
    watch
        `vehicle_id`, `series`, `component`, `position`, `scale`, `begin`, `finish`: the car's window on that
        scale; rows without both are left out by the caller.
    parameters
        `confidence`, `risk_set_least` (a curve is drawn where so many cars are watched throughout).

    Returns
    -------
    polars.DataFrame
        Snapshot table ``mean_cumulative``.

    Notes
    -----
    The estimator is the mean cumulative function with limits from the robust variance, clustered by car.
    Failures of one day at one car are a multiplicity, never moved apart. Windows are cut to where
    enough cars are watched before anything is estimated: a curve that starts late is an increment from there on, with
    limits of that increment, and it ends where too few cars are left.
    """
    windows = _windows(_grouped(watch.with_columns(position_stated=pl.lit(value=True))))
    chained = _chained(_grouped(faults), windows)
    stretches = well_watched(windows, GROUP, parameters.risk_set_least)
    spells = _within(chained, stretches)
    if spells.is_empty():
        return pl.DataFrame()
    curve = mean_cumulative_function(spells, by=GROUP, cluster="vehicle_id", confidence=parameters.confidence)
    columns = [*GROUP, "counted_from", "time", "at_risk", "events", "mcf", "lower", "upper"]
    told = curve.join(stretches.rename({"start": "counted_from"}), on=GROUP, how="left", maintain_order="left")
    return told.sort(*GROUP, "time").select(columns)


def _grouped(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the rows once per grouping they belong to."""
    several = frame.filter(~pl.col("position").is_in(["all", "only"]) & pl.col("position_stated"))
    return pl.concat(
        [
            frame.with_columns(grouping=pl.lit("component"), level=pl.lit("all")),
            frame.with_columns(grouping=pl.lit("series"), level="series"),
            several.with_columns(grouping=pl.lit("position"), level="position"),
        ]
    )


def _windows(watch: pl.DataFrame) -> pl.DataFrame:
    """Return one window per group and car, from its first position's begin to its last one's finish."""
    return (
        watch.group_by(*GROUP, "vehicle_id")
        .agg(pl.col("begin").min(), pl.col("finish").max())
        .filter(pl.col("finish") > pl.col("begin"))
    )


def _within(chained: pl.DataFrame, stretches: pl.DataFrame) -> pl.DataFrame:
    """Cut the rows to their group's stretch: later entry, earlier exit; what failed outside it does not count."""
    inside = chained.join(stretches, on=GROUP, how="inner").filter(
        pl.col("exit") > pl.col("start"), pl.col("entry") < pl.col("end")
    )
    return inside.select(
        *GROUP,
        "vehicle_id",
        pl.max_horizontal("entry", "start").alias("entry"),
        pl.min_horizontal("exit", "end").alias("exit"),
        pl.when(pl.col("exit") <= pl.col("end")).then("event").otherwise(0).alias("event"),
    )


def _chained(faults: pl.DataFrame, windows: pl.DataFrame) -> pl.DataFrame:
    """Cut each car's window at its failures: (entry, exit] with the number of failures at exit."""
    key = [*GROUP, "vehicle_id"]
    cuts = (
        faults.join(windows, on=key, how="inner")
        .with_columns(at=pl.max_horizontal("at", pl.col("begin") + 1))
        .filter(pl.col("at") <= pl.col("finish"))
        .group_by(*key, "begin", exit="at")
        .agg(event=pl.len().cast(pl.Int64))
    )
    ends = windows.select(*key, "begin", exit="finish", event=pl.lit(0, dtype=pl.Int64))
    rows = (
        pl.concat([cuts.select(*key, "begin", "exit", "event"), ends])
        .group_by(*key, "begin", "exit")
        .agg(pl.col("event").sum())
    )
    rows = rows.sort(*key, "exit").with_columns(entry=pl.col("exit").shift(1).over(key).fill_null(pl.col("begin")))
    return rows.select(*key, "entry", "exit", "event")
