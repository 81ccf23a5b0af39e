"""How long units last on average if nobody looks beyond a horizon."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.kaplan_meier import product_limit
from analytics.estimators.limits import normal_quantile
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.risk_set import risk_set
from analytics.estimators.running import running_sum_from_end
from analytics.estimators.spells_in import spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.risk_set import RiskSet
    from analytics.estimators.spells_in import Spells

    Floats = NDArray[np.float64]

RETURNED = ("units", "events", "mean", "std_error", "lower", "upper", "status")


def restricted_mean(
    spells: pl.DataFrame, horizon: float, by: str | Sequence[str] = (), confidence: float = 0.95
) -> pl.DataFrame:
    r"""Return how long a unit works on average within the first `horizon` days or km.

    Parameters
    ----------
    spells
        One row per unit at risk: `entry`, `exit` in days or km, watched in ``(entry, exit]``, `event` 0 or 1.
    horizon
        Days or km, above 0; a unit that lasts longer counts with the horizon.
    by
        Grouping columns.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `units`, `events` (up to the horizon), `mean`, `std_error`, `lower`,
        `upper`, `status`: ``ok``; ``too few`` without a failure by the horizon (the mean is the horizon, nothing
        is known of its error); ``no finite estimate`` where nobody was watched as long as the horizon, or all at
        risk had failed before others entered (all null).

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `horizon` is not a positive number or `confidence` not strictly between 0 and 1.

    Notes
    -----
    The mean is the area :math:`\int_0^h \hat S(t)\,dt` under the product-limit curve, which stays flat where nobody
    is watched; with :math:`A_j` the area from the j-th failure time to h, the variance is
    :math:`\sum_{t_j \le h} A_j^2 d_j / (n_j (n_j - d_j))`. Limits are mean plus or minus z standard errors, cut at
    0 and h.

    References
    ----------
    .. [1] Klein and Moeschberger (2003), Survival Analysis, 2nd ed., formulas 4.5.1 and 4.5.2.

    Examples
    --------
    >>> spells = pl.DataFrame({"entry": [0, 0, 0], "exit": [2, 5, 9], "event": [1, 1, 0]})
    >>> restricted_mean(spells, 6)["mean"].round(4).to_list()
    [4.3333]
    """
    if not 0 < horizon < np.inf:
        raise ValueError(f"horizon must be a positive number of days or km, got {horizon!r}")
    z = normal_quantile(confidence)
    checked = spells_in(spells, by, returned=RETURNED, where="restricted_mean(spells)")
    risk = risk_set(checked)
    survival, _ = product_limit(risk)
    mean, variance, events = _areas(risk, survival, horizon, checked.groups)
    told = _watched(checked, risk, survival, horizon)
    known = told & (events > 0)
    std_error = np.sqrt(variance)
    status = np.select([~told, events == 0], ["no finite estimate", "too few"], default="ok")
    return result_frame(
        checked.levels,
        None,
        {
            "units": np.bincount(checked.group, minlength=checked.groups).astype(np.int64),
            "events": events,
            "mean": shown(mean, told),
            "std_error": shown(std_error, known),
            "lower": shown(np.clip(mean - z * std_error, 0, horizon), known),
            "upper": shown(np.clip(mean + z * std_error, 0, horizon), known),
            "status": pl.Series(status.tolist(), dtype=pl.String),
        },
    )


def _areas(risk: RiskSet, survival: Floats, horizon: float, groups: int) -> tuple[Floats, Floats, NDArray[np.int64]]:
    """Return for each group the area to the horizon, its variance, and the failures up to there."""
    time = np.minimum(risk.time, horizon).astype(np.float64)
    last = np.concatenate((risk.group[1:] != risk.group[:-1], [True]))[: time.size]
    until = np.where(last, horizon, np.concatenate((time[1:], [horizon]))[: time.size])
    after = running_sum_from_end(survival * (until - time), risk.group)
    first = risk.place == 0
    mean = np.full(groups, float(horizon))
    mean[risk.group[first]] = time[first] + after[first]
    left = risk.at_risk - risk.events
    counts = (risk.time <= horizon) & (left > 0)
    growth = np.where(counts, after**2 * risk.events / (risk.at_risk * np.maximum(left, 1.0)), 0.0)
    seen = np.bincount(risk.group, weights=risk.events * (risk.time <= horizon), minlength=groups)
    variance = np.asarray(np.bincount(risk.group, weights=growth, minlength=groups), dtype=np.float64)
    return mean, variance, seen.astype(np.int64)


def _watched(spells: Spells, risk: RiskSet, survival: Floats, horizon: float) -> NDArray[np.bool_]:
    """Tell which groups were watched to the horizon, or until every unit that ever entered had failed."""
    longest = np.full(spells.groups, -np.inf)
    np.maximum.at(longest, spells.group, spells.exit)
    emptied = np.full(spells.groups, np.inf)
    np.minimum.at(emptied, risk.group[survival == 0], risk.time[survival == 0])
    watched: NDArray[np.bool_] = np.where(emptied < horizon, emptied == longest, longest >= horizon)
    return watched
