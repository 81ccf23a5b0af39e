"""How readings change over the years on the same cars."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import stats

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

LEAST_CARS = 5
"""Fewer cars read more than once do not tell how far the others would differ."""

OK, TOO_FEW = "ok", "too few"


def drift(readings: pl.DataFrame, by: Sequence[str] = (), confidence: float = 0.95) -> pl.DataFrame:
    r"""Return the change of readings in a year, each car compared with itself.

    Parameters
    ----------
    readings
        `vehicle_id`, `years` (a point in time, in years) and `value`, a row per reading, none of them null.
    by
        Grouping columns.
    confidence
        Two-sided probability between `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    polars.DataFrame
        A row per group, in order of `by`: the grouping columns, `cars` (read more than once, on different days),
        `per_year`, `lower`, `upper`, `status`: ``ok``, or ``too few`` with fewer than five such cars, all figures null.

    Raises
    ------
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    Least squares with an intercept for each car, so that cars which read high and come late look like no drift.
    Variance from the sums of each car's scores, times :math:`G / (G - 1)` for G cars, and Student's t with
    :math:`G - 1` degrees of freedom [1]_.

    References
    ----------
    .. [1] Cameron and Miller (2015), Journal of Human Resources 50(2), 317-372: variance clustered by group.

    Examples
    --------
    >>> told = {"vehicle_id": list("aabb"), "years": [1.0, 3.0, 2.0, 4.0], "value": [5.0, 7.0, 1.0, 3.0]}
    >>> drift(pl.DataFrame(told))["status"].to_list()
    ['too few']
    """
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie strictly between 0 and 1, got {confidence}")
    keys = [*by]
    ordered = readings.sort(*keys, "vehicle_id", "years", "value")
    within = [*keys, "vehicle_id"]
    ordered = ordered.with_columns(
        pl.struct(within).rle_id().alias("car"), group=pl.struct(keys).rle_id() if keys else pl.lit(0)
    )
    car, group = (ordered[name].to_numpy().astype(np.intp) for name in ("car", "group"))
    if not car.size:
        return _frame(ordered.select(keys).clear(), *[np.zeros(0)] * 4)
    begins = np.flatnonzero(np.diff(car, prepend=-1))
    x, y = (_centred(ordered[name].to_numpy().astype(np.float64), car, begins) for name in ("years", "value"))
    of_car = group[begins]
    spread, common = (np.bincount(of_car, np.add.reduceat(x * each, begins)) for each in (x, y))
    slope = np.divide(common, spread, out=np.zeros_like(common), where=spread > 0)
    score = np.add.reduceat(x * (y - slope[group] * x), begins)
    told = np.add.reduceat(x**2, begins) > 0
    cars = np.bincount(of_car, told)
    degrees = np.maximum(cars - 1, 1)
    error = np.sqrt(np.bincount(of_car, score**2) * cars / degrees) / np.where(spread > 0, spread, 1.0)
    half = stats.t.ppf((1 + confidence) / 2, degrees) * error
    names = ordered.select(keys).unique(maintain_order=True) if keys else pl.DataFrame()
    return _frame(names, cars.astype(np.float64), slope, slope - half, slope + half)


def _centred(values: Floats, car: NDArray[np.intp], begins: NDArray[np.intp]) -> Floats:
    """Return values less the mean of their car."""
    counts = np.diff(np.append(begins, values.size))
    centred: Floats = values - (np.add.reduceat(values, begins) / counts)[car]
    return centred


def _frame(names: pl.DataFrame, cars: Floats, slope: Floats, lower: Floats, upper: Floats) -> pl.DataFrame:
    enough = pl.col("cars") >= LEAST_CARS
    figures = pl.DataFrame({"cars": cars.astype(np.int64), "per_year": slope, "lower": lower, "upper": upper})
    return pl.concat([names, figures], how="horizontal").with_columns(
        pl.when(enough).then(pl.col("per_year", "lower", "upper")).name.keep(),
        status=pl.when(enough).then(pl.lit(OK)).otherwise(pl.lit(TOO_FEW)),
    )
