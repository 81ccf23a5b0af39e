"""Readings taken at checks: against the limits stated for them, and how they change over the years."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.estimators.drift import drift
from analytics.recurrence.gauge_units import with_units
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from analytics.parameters import Parameters

BELOW, WITHIN, ABOVE, NO_LIMIT = "below", "within", "above", "no limit"
OF = ["component", "quantity"]
DIGITS = 12
ROUNDING = 1e-9
"""A reading at its limit stays there when it is converted."""


def check_readings(readings: pl.DataFrame, limits: pl.DataFrame) -> pl.DataFrame:
    """Return every reading of a named component in one unit for each thing measured, and whether it is within limits.

    Parameters
    ----------
    readings
        Rows of ``reading_taken``.
    limits
        Feed table ``limits``; may be empty.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``check_reading``.

    Notes
    -----
    The unit is that of the limit, else the one used most often. Readings that cannot be converted into it are kept
    apart, with a unit of their own; where two limits measure the same thing in two units, the first by name counts.
    """
    named = readings.filter(pl.col("component").is_not_null())
    told = with_units(named).with_columns(pl.col("quantity").fill_null("no unit"))
    stated = _stated(limits)
    usual = _usual(told).join(stated.select(OF), on=OF, how="anti")
    target = pl.concat([stated, usual], how="diagonal_relaxed").rename(
        {"meant": "unit", "times": "to_times", "plus": "to_plus"}
    )
    same = pl.col("meant").eq_missing(pl.col("unit"))
    turned = (pl.col("measured") * pl.col("times") + pl.col("plus") - pl.col("to_plus")) / pl.col("to_times")
    value = pl.col("value")
    return (
        told.join(target, on=OF, how="left", nulls_equal=True)
        .with_columns(value=pl.when(same).then("measured").otherwise(turned.round_sig_figs(DIGITS)), converted=~same)
        .with_columns(
            verdict=pl.when(pl.col("lower").is_null() & pl.col("upper").is_null())
            .then(pl.lit(NO_LIMIT))
            .when((value < pl.col("lower") - ROUNDING * pl.col("lower").abs()).fill_null(value=False))
            .then(pl.lit(BELOW))
            .when((value > pl.col("upper") + ROUNDING * pl.col("upper").abs()).fill_null(value=False))
            .then(pl.lit(ABOVE))
            .otherwise(pl.lit(WITHIN)),
            unit=pl.col("unit").fill_null("no unit"),
        )
        .select(
            *("record", "vehicle_id", "series", "read_on", "component", "position", "measured", "measured_unit"),
            *("value", "unit", "converted", "lower", "upper", "source", "verdict"),
        )
        .sort("component", "unit", "read_on", "record")
    )


def _stated(limits: pl.DataFrame) -> pl.DataFrame:
    """Return one limit for each component and thing measured, with its unit."""
    told = with_units(limits).sort("component", "measured_unit").unique(OF, keep="first", maintain_order=True)
    return told.select(*OF, "meant", "times", "plus", "lower", "upper", "source")


def _usual(told: pl.DataFrame) -> pl.DataFrame:
    """Return the unit used most often for each component and thing measured."""
    counted = told.group_by(*OF, "meant", "times", "plus").agg(used=pl.len())
    return (
        counted.sort(*OF, -pl.col("used").cast(pl.Int64), "meant")
        .unique(OF, keep="first", maintain_order=True)
        .drop("used")
    )


def reading_drifts(readings: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Return how the readings of each component and unit lie to their limits and change over the years.

    Parameters
    ----------
    readings
        As from `check_readings`.
    parameters
        `confidence` of the limits.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``reading_drift``.
    """
    if readings.is_empty():
        return pl.DataFrame()
    of = ["component", "unit"]
    years = pl.col("read_on").to_physical() / DAYS_PER_YEAR
    points = readings.select(*of, "vehicle_id", "value", years=years)
    verdict = {name: (pl.col("verdict") == name).sum().cast(pl.Int64) for name in (BELOW, WITHIN, ABOVE)}
    counted = readings.group_by(of).agg(
        readings=pl.len().cast(pl.Int64),
        vehicles=pl.col("vehicle_id").n_unique().cast(pl.Int64),
        first_on=pl.col("read_on").min(),
        last_on=pl.col("read_on").max(),
        lowest=pl.col("value").min(),
        median=pl.col("value").median(),
        highest=pl.col("value").max(),
        converted=pl.col("converted").sum().cast(pl.Int64),
        limit_lower=pl.col("lower").first(),
        limit_upper=pl.col("upper").first(),
        source=pl.col("source").first(),
        **verdict,
    )
    change = drift(points, of, parameters.confidence).rename(
        {"cars": "read_again", "lower": "per_year_lower", "upper": "per_year_upper"}
    )
    others = pl.col("unit").n_unique().over("component") - 1
    return counted.join(change, on=of).sort(of).with_columns(units_apart=others.cast(pl.Int64))
