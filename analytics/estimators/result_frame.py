"""Turn arrays of results into a frame: grouping columns first, null wherever there is no finite number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray


def shown(values: NDArray[np.float64], where: NDArray[np.bool_] | None = None) -> pl.Series:
    """Return a column of floats with null for NaN, infinity and rows outside `where`.

    Examples
    --------
    >>> shown(np.array([1.0, np.inf, np.nan])).to_list()
    [1.0, None, None]
    """
    good = np.isfinite(values) if where is None else np.isfinite(values) & where
    if good.all():
        return pl.Series(values, dtype=pl.Float64)
    return pl.Series(np.where(good, values, np.nan), dtype=pl.Float64, nan_to_null=True)


def result_frame(
    levels: pl.DataFrame,
    group: NDArray[np.int64] | None,
    columns: Mapping[str, pl.Series | NDArray[np.int64] | NDArray[np.float64]],
) -> pl.DataFrame:
    """Put the grouping columns of each row's group before its results.

    Parameters
    ----------
    levels
        One row per group.
    group
        Row of `levels` each result belongs to; None if there is one result per group in order.
    columns
        Results by name; float arrays lose what is not finite.
    """
    results = pl.DataFrame({name: _column(values) for name, values in columns.items()})
    if levels.width == 0:
        return results
    wanted = levels if group is None else levels[group]
    return pl.concat([wanted, results], how="horizontal")


def _column(values: pl.Series | NDArray[np.int64] | NDArray[np.float64]) -> pl.Series:
    if isinstance(values, pl.Series):
        return values
    if np.issubdtype(values.dtype, np.floating):
        return shown(values.astype(np.float64, copy=False))
    return pl.Series(values)
