"""How often it fails: rates per car-year with exact limits, median gap, trend over the cars' own windows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators import kaplan_meier, rate
from analytics.recurrence.trend import trends
from analytics.recurrence.trend_verdict import with_verdict
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from analytics.parameters import Parameters

KEY = ["component", "position", "series"]

OWN_POSITION = pl.col("position") != "all"

HALF = 0.5 + 1e-9
"""A product over censored times may miss one half by its last bit."""


def failure_intervals(
    faults: pl.DataFrame, watch: pl.DataFrame, gaps: pl.DataFrame, parameters: Parameters
) -> pl.DataFrame:
    """Return failures, exposure, rate, median gap and trend per component, position and series.

    Parameters
    ----------
    faults
        `vehicle_id`, `series`, `component`, `position`, `visit_day`, `used`, `position_inferred`; one row per
        (visit, position).
    watch
        `vehicle_id`, `series`, `component`, `position`, `start_on`, `end_on`, `vehicle_days`, `km`.
    gaps
        `component`, `position`, `series`, `vehicle_id`, `days`, `event`.
    parameters
        `confidence` of the limits; `own_failures`, `difference_p`, `joining_days` and `follow_up_days`, from when and
        how surely a trend is told.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``failure_interval``; rows for each position and series and for ``all`` of each.

    Notes
    -----
    Rule 35: a car counts once in the exposure of ``all`` positions, so that this rate adds the positions up; it
    also holds the failures whose line names no position.
    Limits of the rate are exact (Garwood). The gap's median is that of the product-limit curve.
    """
    exposure = _exposure(watch)
    if exposure.is_empty():
        return pl.DataFrame()
    counts = (
        _faults_by_place(faults)
        .group_by(KEY)
        .agg(
            events_seen=pl.len().cast(pl.Int64),
            events_used=pl.col("used").sum().cast(pl.Int64),
        )
    )
    rows = (
        exposure.join(counts, on=KEY, how="left")
        .with_columns(pl.col("events_seen", "events_used").fill_null(0))
        .with_columns(failures=pl.col("events_used"))
        .sort(KEY)
    )
    limits = rate(rows["failures"], rows["vehicle_years"] / 100, confidence=parameters.confidence)
    rows = rows.with_columns(limits.select(rate_per_100_vehicle_years="rate", rate_lower="lower", rate_upper="upper"))
    trend = trends(_faults_by_place(faults).filter("used"), _split(watch), KEY, parameters)
    told = (
        rows.join(_median_gap(gaps, parameters), on=KEY, how="left")
        .with_columns(pl.col("median_status").fill_null("no gap to measure"))
        .join(trend, on=KEY, how="left")
        .sort(KEY)
    )
    return with_verdict(told, parameters)


def _split(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the rows four times over: as they are, and with position, series or both set to ``all``.

    Where a component has one position only, the row for ``all`` positions says the same and stands alone. A position
    or series that is itself called ``all`` has no rows of its own, so that none counts twice.
    """
    every = pl.lit("all")
    each = frame.filter(pl.col("series").ne_missing("all"))
    return pl.concat(
        [
            each.filter(OWN_POSITION),
            frame.filter(OWN_POSITION).with_columns(series=every),
            each.with_columns(position=every),
            frame.with_columns(position=every, series=every),
        ]
    )


def _faults_by_place(faults: pl.DataFrame) -> pl.DataFrame:
    """Return the failures four times over; a position's own rows hold those whose line names it.

    A position that rule 16 filled in serves the lives; as evidence that one side fails more it is none.
    """
    return _split(faults).filter(~pl.col("position_inferred") | (pl.col("position") == "all"))


def _exposure(watch: pl.DataFrame) -> pl.DataFrame:
    """Return car-years and km; on ``all`` positions a car counts once."""
    per_car = _split(watch).group_by(*KEY, "vehicle_id").agg(pl.col("vehicle_days", "km").max())
    return per_car.group_by(KEY).agg(
        vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
        vehicle_years=pl.col("vehicle_days").sum() / DAYS_PER_YEAR,
        distance_km=pl.when(pl.col("km").count() > 0).then(pl.col("km").sum()).cast(pl.Float64),
    )


def _median_gap(gaps: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return the first gap by which half have failed again."""
    spells = _split(gaps).select(
        *KEY, entry=pl.lit(0, dtype=pl.Int64), exit=pl.col("days").clip(lower_bound=1), event="event"
    )
    if spells.is_empty():
        return pl.DataFrame(
            schema={**dict.fromkeys(KEY, pl.String), "median_interval_days": pl.Float64, "median_status": pl.String}
        )
    curve = kaplan_meier(spells, by=KEY, confidence=parameters.confidence)
    reached = (
        curve.filter(pl.col("survival") <= HALF)
        .group_by(KEY)
        .agg(median_interval_days=pl.col("time").min().cast(pl.Float64))
    )
    measured = spells.group_by(KEY).agg(events=pl.col("event").sum())
    return measured.join(reached, on=KEY, how="left").select(
        *KEY,
        "median_interval_days",
        median_status=pl.when(pl.col("median_interval_days").is_not_null())
        .then(pl.lit("ok"))
        .when(pl.col("events") == 0)
        .then(pl.lit("no second failure yet"))
        .otherwise(pl.lit("more than half have not failed again")),
    )
