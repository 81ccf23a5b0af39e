"""The mean number of failures per unit over time, with a standard error that allows for unlike units."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import special

from analytics.estimators.influence import robust_variance
from analytics.estimators.limits import log_limits, normal_quantile
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.risk_set import risk_set
from analytics.estimators.running import running_sum
from analytics.estimators.spells_in import group_codes, names, refuse_missing, refuse_null, spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    from analytics.estimators.spells_in import Spells

FEW_UNITS = 20
"""Below this many units the limits are widened; the standard error is not: it stays the published one."""

RETURNED = ("time", "at_risk", "events", "mcf", "std_error", "lower", "upper")


def mean_cumulative_function(
    spells: pl.DataFrame, by: str | Sequence[str] = (), cluster: str | None = None, confidence: float = 0.95
) -> pl.DataFrame:
    r"""Return how often a unit has failed on average by each failure time.

    Parameters
    ----------
    spells
        Stretches of watching: `entry`, `exit` in days or km, ``(entry, exit]``, and `event`, the number of failures at
        `exit` (0, 1 or more: failures of one day are one row with a count, never moved apart). A unit that failed
        several times has several rows, chained: the next `entry` is the last `exit`.
    by
        Grouping columns.
    cluster
        Column that tells which rows belong together: the unit, or the vehicle of several units. Rows of one
        cluster may be alike, the standard error allows for it. None: every row is a unit of its own.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per group and failure time: the columns of `by`, `time`, `at_risk` (rows watched just before),
        `events`, `mcf` (failures per unit), `std_error`, `lower`, `upper`. With a single cluster nothing is known
        about the spread between units: the limits are null.

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    With :math:`Y(s)` at risk and :math:`dN(s)` failures, :math:`\hat M(t) = \sum_{s \le t} dN(s) / Y(s)`. The
    standard error is the published robust one: :math:`V(t) = \sum_c \psi_c(t)^2` with
    :math:`\psi_c(t) = \sum_{s \le t} (dN_c(s) - Y_c(s)\, d\hat M(s)) / Y(s)`, summed inside each cluster first.
    Limits are :math:`\hat M \exp(\pm q\, \mathrm{se} / \hat M)` with the normal q; for fewer than 20 clusters n, q is
    Student's with n - 1 degrees times :math:`\sqrt{n / (n - 1)}`. No failure: no row.

    References
    ----------
    .. [1] Lawless and Nadeau (1995), Technometrics 37(2), 158-168.
    .. [2] Nelson (1995), Technometrics 37(2), 147-157 (another variance estimator).

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame({"unit": [1, 1, 2], "entry": [0, 5, 0], "exit": [5, 9, 8], "event": [1, 0, 2]})
    >>> mean_cumulative_function(spells, cluster="unit")["mcf"].to_list()
    [0.5, 1.5]
    """
    z = normal_quantile(confidence)
    where = "mean_cumulative_function(spells)"
    checked = spells_in(spells, by, returned=RETURNED, where=where, most_events=None)
    unit = _units(spells, names(by), cluster, where)
    risk = risk_set(checked)
    mean = running_sum(risk.events / risk.at_risk, risk.place)
    std_error = np.sqrt(robust_variance(risk, checked.event, unit))
    clusters = _clusters_per_group(checked, unit)[risk.group]
    lower, upper = log_limits(mean, _quantile(z, clusters, confidence) * std_error)
    return result_frame(
        checked.levels,
        risk.group,
        {
            "time": risk.time,
            "at_risk": risk.at_risk,
            "events": risk.events,
            "mcf": mean,
            "std_error": std_error,
            "lower": shown(lower, clusters > 1),
            "upper": shown(upper, clusters > 1),
        },
    )


def _units(frame: pl.DataFrame, by: tuple[str, ...], cluster: str | None, where: str) -> NDArray[np.int64]:
    """Return a code of each row's cluster; one that appears in two groups counts as one in each."""
    if cluster is None:
        return np.arange(frame.height, dtype=np.int64)
    refuse_missing(frame, (cluster,), where)
    refuse_null(frame, (cluster,), where)
    return group_codes(frame, tuple(dict.fromkeys((*by, cluster))))[1]


def _clusters_per_group(spells: Spells, unit: NDArray[np.int64]) -> NDArray[np.int64]:
    first = np.unique(unit, return_index=True)[1]
    return np.bincount(spells.group[first], minlength=spells.groups).astype(np.int64)


def _quantile(z: float, clusters: NDArray[np.int64], confidence: float) -> NDArray[np.float64]:
    others = np.maximum(clusters - 1.0, 1.0)
    student = special.stdtrit(others, (1 + confidence) / 2) * np.sqrt((others + 1) / others)
    return np.where(clusters < FEW_UNITS, student, z)
