"""Does it get better or worse: the Laplace test over many groups at once."""

from __future__ import annotations

import polars as pl
from scipy.special import ndtr


def laplace_by_group(faults: pl.DataFrame, watch: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    r"""Return the pooled Laplace statistic of each group over its cars' own windows.

    Parameters
    ----------
    faults
        Key columns, `vehicle_id`, `visit_day`; failures within the windows.
    watch
        Key columns, `vehicle_id`, `start_on`, `end_on`; a car's windows of several positions count once.
    key
        Grouping columns.

    Returns
    -------
    polars.DataFrame
        Key columns, `trend_z` (positive = failures crowd late), `trend_p_value` (two-sided); only groups
        with a failure.

    Notes
    -----
    Given the number of failures in a car's window of length w, their days are uniform under no trend, so
    :math:`z = \sum (t - m) / \sqrt{\sum w^2 / 12}` over all failures, m the middle of the car's window.

    References
    ----------
    .. [1] Cox and Lewis (1966), The Statistical Analysis of Series of Events, section 3.3; from memory.
    """
    windows = (
        watch.group_by(*key, "vehicle_id")
        .agg(pl.col("start_on").min(), pl.col("end_on").max())
        .with_columns(length=(pl.col("end_on") - pl.col("start_on")).dt.total_days().cast(pl.Float64))
        .filter(pl.col("length") > 0)
    )
    middle = (pl.col("visit_day") - pl.col("start_on")).dt.total_days() - pl.col("length") / 2
    # halves and squares of whole days add up exactly, in any order (rule 7)
    sums = (
        faults.join(windows, on=[*key, "vehicle_id"], how="inner")
        .filter(pl.col("visit_day").is_between("start_on", "end_on"))
        .group_by(key)
        .agg(off=middle.sum(), spread=((pl.col("length") ** 2).sum() / 12).sqrt())
        .sort(key)
        .with_columns(trend_z=pl.col("off") / pl.col("spread"))
    )
    return sums.select(*key, "trend_z").with_columns(
        trend_p_value=pl.Series(2 * ndtr(-sums["trend_z"].abs().to_numpy()), dtype=pl.Float64)
    )
