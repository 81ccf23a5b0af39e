"""The share of units that last beyond each failure time (product-limit curve)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from analytics.estimators.group_blocks import by_blocks
from analytics.estimators.limits import log_limits, log_log_limits, normal_quantile, plain_limits
from analytics.estimators.result_frame import result_frame
from analytics.estimators.risk_set import risk_set
from analytics.estimators.running import place_in_group, running_product, running_sum
from analytics.estimators.spells_in import spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.risk_set import RiskSet
    from analytics.estimators.spells_in import Spells

Transform = Literal["log-log", "log", "plain"]

LIMITS = {"log-log": log_log_limits, "log": log_limits, "plain": plain_limits}

RETURNED = ("time", "at_risk", "events", "censored", "survival", "std_error", "lower", "upper")


def kaplan_meier(
    spells: pl.DataFrame,
    by: str | Sequence[str] = (),
    confidence: float = 0.95,
    transform: Transform = "log-log",
    start: float | None = None,
) -> pl.DataFrame:
    r"""Return the share of units that last beyond each failure time.

    Parameters
    ----------
    spells
        One row per unit at risk: `entry`, `exit` in days or km, the unit is watched in ``(entry, exit]``, `event`
        1 if it failed at `exit`, else 0. Failures known to an interval only are taken at `exit`.
    by
        Grouping columns; every group has its own curve.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.
    transform
        Scale of the limits: ``log-log`` stays inside 0 to 1, ``log`` and ``plain`` are cut there.
    start
        Days or km. The curve is then the share of those that lasted beyond `start`.

    Returns
    -------
    DataFrame
        A row per group and failure time: the columns of `by`, `time`, `at_risk` (just before), `events`,
        `censored` (from this failure time until before the next one), `survival`, `std_error`, `lower`, `upper`;
        the last three are null from where `survival` is 0.

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `confidence` or `transform` is not one of those above.

    Notes
    -----
    With :math:`n_j` at risk and :math:`d_j` failures,
    :math:`\hat S(t) = \prod_{t_j \le t} (1 - d_j / n_j)` and
    :math:`\mathrm{se} = \hat S \sqrt{\sum d_j / (n_j (n_j - d_j))}` (Greenwood).

    Failures come before censorings at the same time. If everyone at risk has failed, the product stays 0 even if other
    units enter later; ask for ``start`` beyond that time then. No failure: no row.

    References
    ----------
    .. [1] Kaplan and Meier (1958), Journal of the American Statistical Association 53(282), 457-481.
    .. [2] Klein and Moeschberger (2003), Survival Analysis, 2nd ed., sections 4.2 to 4.6 (late entry: 4.6).

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [2, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> kaplan_meier(spells)["survival"].round(4).to_list()
    [0.6667, 0.3333, 0.0]
    """
    if transform not in LIMITS:
        raise ValueError(f"transform must be one of {', '.join(LIMITS)}, got {transform!r}")
    z = normal_quantile(confidence)
    checked = spells_in(spells, by, returned=RETURNED, where="kaplan_meier(spells)")
    if start is not None:
        checked = checked.lasting_to(start)
    curves = by_blocks(checked, lambda part: _curves(part, z, transform))
    rows = np.concatenate([each.rows for each in curves])
    columns = {name: pl.concat([each.columns[name] for each in curves]) for name in RETURNED}
    return result_frame(checked.levels, np.repeat(np.arange(rows.size), rows), columns)


@dataclass(frozen=True, slots=True)
class _Curves:
    """Curves of some groups: the rows of each, ``(groups,)``, and the columns returned."""

    rows: NDArray[np.int64]
    columns: dict[str, pl.Series]


def _curves(spells: Spells, z: float, transform: Transform) -> _Curves:
    risk = risk_set(spells)
    survival, std_error = product_limit(risk)
    lower, upper = LIMITS[transform](survival, z * std_error)
    columns = {
        "time": risk.time,
        "at_risk": risk.at_risk,
        "events": risk.events,
        "censored": _censored(spells, risk),
        "survival": survival,
        "std_error": std_error,
        "lower": lower,
        "upper": np.minimum(upper, 1),
    }
    # what is not a number is so from where nothing survives; nothing here is infinite
    series = {name: pl.Series(name, values, nan_to_null=True) for name, values in columns.items()}
    return _Curves(risk.rows, series)


def product_limit(risk: RiskSet) -> tuple[NDArray[np.float64], NDArray[np.float64]]:
    """Return the product-limit survival and its Greenwood standard error at each failure time, NaN from 0 on."""
    events, at_risk = risk.events.astype(np.float64), risk.at_risk.astype(np.float64)
    left = at_risk - events
    survival = survival_product(risk)
    at_risk *= np.maximum(left, 1.0)
    growth = np.divide(events, at_risk, out=np.zeros_like(left), where=left > 0)
    std_error = np.sqrt(running_sum(growth, risk.place))
    std_error *= survival
    std_error[survival <= 0] = np.nan
    return survival, std_error


def survival_product(risk: RiskSet) -> NDArray[np.float64]:
    """Return the product of ``1 - events / at_risk`` up to each failure time of a group.

    Where nobody enters or leaves between failure times, the fractions cancel: 5/6 x 4/5 x 3/4 is 3/6, so that a
    median is not missed by a last bit.
    """
    at_risk, left = risk.at_risk, risk.at_risk - risk.events
    if left.size == 0:
        return np.zeros(0)
    begins = risk.place == 0
    begins[1:] |= at_risk[1:] != left[:-1]
    first = np.flatnonzero(begins)
    length = np.diff(first, append=left.size)
    watched = at_risk[first].astype(np.float64)
    place = place_in_group(risk.group[first])
    through = running_product(left[first + length - 1] / watched, place)
    before = np.where(place > 0, np.concatenate(([1.0], through[:-1])), 1.0)
    survival = left.astype(np.float64)
    survival /= np.repeat(watched, length)
    survival *= np.repeat(before, length)
    return survival


def _censored(spells: Spells, risk: RiskSet) -> NDArray[np.int64]:
    """Count spells that ended without failure from each failure time until before the next one."""
    lost = risk.gone[1:] - risk.events
    # the last row of a group also has those who left later groups before a failure there
    some = risk.rows > 0
    last = np.cumsum(risk.rows)[some] - 1
    through = np.cumsum(np.bincount(spells.group, minlength=spells.groups))
    lost[last] -= np.cumsum(risk.gone)[last + 1] - through[some]
    return lost
