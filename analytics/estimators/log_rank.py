"""Whether groups fail alike: observed against expected failures at every failure time."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl
from scipy import linalg, special
from scipy.sparse import csgraph

from analytics.estimators.result_frame import shown
from analytics.estimators.risk_set import risk_set
from analytics.estimators.spells_in import spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.spells_in import Spells

    Floats = NDArray[np.float64]

Weights = Literal["none", "gehan", "tarone-ware", "peto"]

WEIGHTS = ("none", "gehan", "tarone-ware", "peto")

ROUNDING = 4 * np.finfo(np.float64).eps
"""Added per group to the diagonal of their correlation, so that rounding never makes it negative."""

RETURNED = ("statistic", "df", "p_value", "status")


@dataclass(frozen=True, slots=True)
class Comparison:
    """Weighted failures of each of ``g`` groups against those expected if all failed alike.

    Attributes
    ----------
    observed, expected
        Shape ``(g,)``, weighted.
    covariance
        Shape ``(g, g)``, of observed less expected.
    """

    observed: Floats
    expected: Floats
    covariance: Floats


def log_rank(spells: pl.DataFrame, by: str | Sequence[str], weights: Weights = "none") -> pl.DataFrame:
    r"""Return whether the groups differ in how they fail.

    Parameters
    ----------
    spells
        One row per unit at risk: `entry`, `exit` in days or km, watched in ``(entry, exit]``, `event` 0 or 1.
    by
        Grouping columns; their groups are compared with each other, all at once.
    weights
        What a failure time counts: ``none`` 1, ``gehan`` the number at risk, ``tarone-ware`` its root, ``peto`` the
        share still working (these three look more at early failures).

    Returns
    -------
    DataFrame
        One row: `statistic` (chi-square), `df`, `p_value`, `groups`, `events`, `status`: ``ok``, or ``too few`` where
        no failure time has two groups at risk; the first three are null then.

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `weights` is not one of those above.

    Notes
    -----
    At each failure time of all groups together, with n at risk and d failures, group k expects :math:`d n_k / n`; the
    variance is hypergeometric, so ties are exact. ``peto`` weighs by :math:`\prod (1 - d / (n + 1))` up to and
    including the time. `df` is one less for every set of groups that are watched together, directly or through
    others: groups never watched together are not compared.

    References
    ----------
    .. [1] Klein and Moeschberger (2003), Survival Analysis, 2nd ed., section 7.3.
    .. [2] Peto and Peto (1972), Journal of the Royal Statistical Society A 135(2), 185-207.

    Examples
    --------
    >>> spells = pl.DataFrame({"kind": ["a", "a", "b", "b"], "entry": [0] * 4, "exit": [1, 2, 3, 4], "event": [1] * 4})
    >>> log_rank(spells, "kind")["statistic"].round(4).to_list()
    [2.8824]
    """
    if weights not in WEIGHTS:
        raise ValueError(f"weights must be one of {', '.join(WEIGHTS)}, got {weights!r}")
    checked = spells_in(spells, by, returned=RETURNED, where="log_rank(spells)")
    result = compare(checked, weights)
    statistic, df = _chi_square(result)
    told = df > 0
    return pl.DataFrame(
        {
            "statistic": shown(np.array([statistic]), np.array([told])),
            "df": pl.Series([df if told else None], dtype=pl.Int64),
            "p_value": shown(special.chdtrc(np.array([float(df)]), np.array([statistic])), np.array([told])),
            "groups": pl.Series([checked.groups], dtype=pl.Int64),
            "events": pl.Series([int(checked.event.sum())], dtype=pl.Int64),
            "status": ["ok" if told else "too few"],
        }
    )


def compare(spells: Spells, weights: Weights) -> Comparison:
    """Add up weighted observed and expected failures of each group, and their covariance."""
    together = risk_set(replace(spells, group=np.zeros_like(spells.group), levels=spells.levels[:1]))
    moments, failed = together.time.size, spells.event > 0
    come = _cells(together.row_entry + 1, spells.group, moments + 1, spells.groups)
    gone = _cells(together.row_time + 1, spells.group, moments + 1, spells.groups)
    at_risk = np.cumsum(come - gone, axis=0)[:moments].astype(np.float64)
    events = _cells(together.row_time[failed], spells.group[failed], moments, spells.groups).astype(np.float64)
    n, d = at_risk.sum(axis=1), events.sum(axis=1)
    weight = _weight(weights, n, d)
    share = at_risk / n[:, None]
    spread = weight**2 * d * (n - d) / np.maximum(n - 1, 1)
    # summed over failure times: spread * (diagonal of share - outer product of share)
    covariance = np.diag((spread[:, None] * share).sum(axis=0)) - (spread[:, None] * share).T @ share
    return Comparison((weight[:, None] * events).sum(axis=0), ((weight * d)[:, None] * share).sum(axis=0), covariance)


def _cells(row: NDArray[np.int64], group: NDArray[np.int64], rows: int, groups: int) -> NDArray[np.int64]:
    """Count spells by row and group, shape ``(rows, groups)``."""
    return np.bincount(row * groups + group, minlength=rows * groups).reshape(rows, groups)


def _chi_square(result: Comparison) -> tuple[float, int]:
    """Return the squared length of observed less expected, in its own spread, and how many directions have any.

    Notes
    -----
    Groups at risk together at a failure time have a covariance below 0, all others exactly 0. Observed less expected
    adds up to 0 over groups linked in this way, so one of them is left out: the rest has a Cholesky factor.
    """
    spread = np.sqrt(np.maximum(np.diag(result.covariance), 0.0))
    linked = csgraph.connected_components(result.covariance < 0, directed=False)[1]
    kept = np.ones(spread.size, dtype=np.bool_)
    kept[np.unique(linked, return_index=True)[1]] = False
    if not kept.any():
        return 0.0, 0
    scaled = (result.observed - result.expected)[kept] / spread[kept]
    correlation = result.covariance[np.ix_(kept, kept)] / np.outer(spread[kept], spread[kept])
    correlation[np.diag_indices_from(correlation)] += ROUNDING * spread.size
    factor = linalg.cholesky(correlation, lower=True)
    off = linalg.solve_triangular(factor, scaled, lower=True)
    return float(off @ off), int(kept.sum())


def _weight(weights: Weights, n: Floats, d: Floats) -> Floats:
    if weights == "gehan":
        return n
    if weights == "tarone-ware":
        return np.asarray(np.sqrt(n), dtype=np.float64)
    if weights == "peto":
        return np.asarray(np.cumprod(1 - d / (n + 1)), dtype=np.float64)
    return np.ones_like(n)
