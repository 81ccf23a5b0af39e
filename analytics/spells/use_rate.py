"""How far a car is driven in a year: its own readings, drawn towards its series'."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from analytics.parameters import Parameters

LEAST_SPAN_YEARS = 0.5
"""A shorter span of readings says nothing of a year: season and chance rule it (rule 38 uses the same)."""

LEAST_CARS = 5
"""A series with fewer cars of known rate takes the fleet's mean."""


def use_rates(points: pl.DataFrame, vehicles: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    r"""Return the yearly distance of every car, shrunken towards its series.

    Parameters
    ----------
    points
        Accepted readings: vehicle_id, day (since 1970-01-01), km (total).
    vehicles
        vehicle_id, series.
    parameters
        ``rate_prior_years``.

    Returns
    -------
    polars.DataFrame
        vehicle_id, span_years (0 without two readings), own_km_per_year (null where the span is below half a
        year), km_per_year (shrunken; null where no car of the fleet has a rate), sorted by car.

    Notes
    -----
    Rates are close to lognormal across cars, so logarithms are averaged (methods, B1.5):

    .. math:: \log r_v = w \log \hat r_v + (1 - w)\,\bar m, \qquad w = n_v / (n_v + k),

    with :math:`n_v` the years between first and last reading, :math:`k` = ``rate_prior_years`` and
    :math:`\bar m` the mean of :math:`\log \hat r` over the series, or the fleet if the series has few cars. A car that
    did not move counts as driven 1 km in its span.
    """
    spans = (
        points.group_by("vehicle_id")
        .agg(days=pl.col("day").max() - pl.col("day").min(), km=pl.col("km").max() - pl.col("km").min())
        .with_columns(span_years=pl.col("days") / DAYS_PER_YEAR)
        .with_columns(
            own=pl.when(pl.col("span_years") >= LEAST_SPAN_YEARS).then(
                pl.max_horizontal(pl.col("km"), pl.lit(1)) / pl.col("span_years")
            )
        )
    )
    cars = (
        vehicles.select("vehicle_id", "series")
        .join(spans, on="vehicle_id", how="left")
        # a mean is the same to the last bit only if it adds up in the same order
        .sort("vehicle_id")
        .with_columns(pl.col("span_years").fill_null(0.0), log_own=pl.col("own").log())
    )
    fleet = cars["log_own"].mean()
    series_mean = pl.when(pl.col("log_own").count().over("series") >= LEAST_CARS).then(
        pl.col("log_own").mean().over("series")
    )
    weight = pl.col("span_years") / (pl.col("span_years") + parameters.rate_prior_years)
    return (
        cars.with_columns(mean=series_mean.fill_null(pl.lit(fleet, dtype=pl.Float64)))
        .with_columns(log_rate=weight * pl.col("log_own") + (1 - weight) * pl.col("mean"))
        .select(
            "vehicle_id",
            "span_years",
            own_km_per_year=pl.col("own"),
            km_per_year=pl.coalesce("log_rate", "mean").exp(),
        )
        .sort("vehicle_id")
    )
