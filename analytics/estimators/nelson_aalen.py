"""The cumulative hazard of units: failures per unit at risk, added up over time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.limits import log_limits, normal_quantile
from analytics.estimators.result_frame import result_frame
from analytics.estimators.risk_set import risk_set
from analytics.estimators.running import running_sum
from analytics.estimators.spells_in import spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl

RETURNED = ("time", "at_risk", "events", "cumulative_hazard", "std_error", "lower", "upper")


def nelson_aalen(spells: pl.DataFrame, by: str | Sequence[str] = (), confidence: float = 0.95) -> pl.DataFrame:
    r"""Return how much risk of failure has added up by each failure time.

    Parameters
    ----------
    spells
        One row per unit at risk: `entry`, `exit` in days or km, watched in ``(entry, exit]``, `event` 0 or 1.
    by
        Grouping columns.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per group and failure time: the columns of `by`, `time`, `at_risk`, `events`, `cumulative_hazard`,
        `std_error`, `lower`, `upper` (on the log scale, so above 0).

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    :math:`\hat H(t) = \sum_{t_j \le t} d_j / n_j`, variance :math:`\sum d_j / n_j^2`; tied failures share the same
    risk set. No failure: no row.

    References
    ----------
    .. [1] Aalen (1978), Annals of Statistics 6(4), 701-726.
    .. [2] Klein and Moeschberger (2003), Survival Analysis, 2nd ed., formulas 4.2.3 and 4.2.4.

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [2, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> nelson_aalen(spells)["cumulative_hazard"].round(4).to_list()
    [0.3333, 0.8333, 1.8333]
    """
    z = normal_quantile(confidence)
    checked = spells_in(spells, by, returned=RETURNED, where="nelson_aalen(spells)")
    risk = risk_set(checked)
    hazard = running_sum(risk.events / risk.at_risk, risk.place)
    std_error = np.sqrt(running_sum(risk.events / risk.at_risk.astype(np.float64) ** 2, risk.place))
    lower, upper = log_limits(hazard, z * std_error)
    return result_frame(
        checked.levels,
        risk.group,
        {
            "time": risk.time,
            "at_risk": risk.at_risk,
            "events": risk.events,
            "cumulative_hazard": hazard,
            "std_error": std_error,
            "lower": lower,
            "upper": upper,
        },
    )
