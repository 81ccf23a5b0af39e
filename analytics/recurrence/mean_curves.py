"""Failures per car so far, by the car's own age or distance: mean cumulative curves."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import mean_cumulative_function

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
        `confidence`, `risk_set_least` (a curve starts where so many cars are watched).

    Returns
    -------
    polars.DataFrame
        Snapshot table ``mean_cumulative``.

    Notes
    -----
    The estimator is the mean cumulative function with limits from the robust variance, clustered by car.
    Failures of one day at one car are a multiplicity, never moved apart. A curve that starts late is an
    increment from there on.
    """
    spells = _chained(_grouped(faults), _grouped(watch.with_columns(position_stated=pl.lit(value=True))))
    if spells.is_empty():
        return pl.DataFrame()
    curve = mean_cumulative_function(spells, by=GROUP, cluster="vehicle_id", confidence=parameters.confidence)
    enough = curve.filter(pl.col("events") > 0)
    thin = (pl.col("at_risk") < parameters.risk_set_least).cast(pl.Int64).sort_by("time").cum_min().over(GROUP)
    enough = enough.sort(*GROUP, "time").with_columns(before=thin)
    return enough.filter(pl.col("before") == 0).select(*GROUP, "time", "at_risk", "events", "mcf", "lower", "upper")


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


def _chained(faults: pl.DataFrame, watch: pl.DataFrame) -> pl.DataFrame:
    """Cut each car's window at its failures: (entry, exit] with the number of failures at exit."""
    key = [*GROUP, "vehicle_id"]
    windows = (
        watch.group_by(key)
        .agg(pl.col("begin").min(), pl.col("finish").max())
        .filter(pl.col("finish") > pl.col("begin"))
    )
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
