"""The share of units that have failed from each of several causes, one cause ending the wait for the others."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.kaplan_meier import survival_product
from analytics.estimators.limits import log_log_limits, normal_quantile
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.risk_set import risk_set
from analytics.estimators.running import place_in_group, running_sum, without_rounding
from analytics.estimators.spells_in import group_codes, names, refuse_missing, refuse_rows, spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    from analytics.estimators.risk_set import RiskSet
    from analytics.estimators.spells_in import Spells

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

RETURNED = ("cause", "time", "at_risk", "events", "incidence", "std_error", "lower", "upper")


@dataclass(frozen=True, slots=True)
class _Grid:
    """Every cause of a group at every failure time of that group, rows of one cause side by side.

    ``pair`` numbers group and cause, ``row`` is the failure time's row in the risk set, ``events`` the failures of
    the cause.
    """

    pair: Ints
    row: Ints
    events: Ints


def cumulative_incidence(
    spells: pl.DataFrame, cause: str, by: str | Sequence[str] = (), confidence: float = 0.95
) -> pl.DataFrame:
    r"""Return the share of units that have failed from each cause by each failure time.

    Parameters
    ----------
    spells
        One row per unit at risk: `entry`, `exit` in days or km, watched in ``(entry, exit]``, `event` 0 or 1.
    cause
        Column that holds what a unit failed from; read only where `event` is 1.
    by
        Grouping columns.
    confidence
        Two-sided confidence of `lower` and `upper`, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per group, cause and failure time of that group (from any cause): the columns of `by`, `cause`, `time`,
        `at_risk`, `events` (from this cause), `incidence`, `std_error`, `lower`, `upper`; the limits are null
        where `incidence` is 0 or 1.

    Raises
    ------
    SpellError
        If rows break the contract of spells, or a failure has no cause; the message names them.
    ValueError
        If `confidence` is not strictly between 0 and 1.

    Notes
    -----
    With :math:`d_{kj}` failures from cause k among :math:`n_j` at risk and :math:`\hat S` the product-limit curve of
    all causes, :math:`\hat F_k(t) = \sum_{t_j \le t} \hat S(t_j-)\, d_{kj} / n_j`. Failures from several causes at one
    time share the same risk set. The variance adds up, over failure times, the multinomial variance of the failures,
    each carried on to t; limits are on the log(-log) scale. No failure: no row.

    References
    ----------
    .. [1] Aalen and Johansen (1978), Scandinavian Journal of Statistics 5(3), 141-150.
    .. [2] Andersen, Borgan, Gill and Keiding (1993), Statistical Models Based on Counting Processes, section IV.4.

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame({"entry": [0] * 3, "exit": [1, 2, 3], "event": [1, 1, 0], "why": ["leak", "crack", None]})
    >>> cumulative_incidence(spells, "why")["incidence"].round(4).to_list()
    [0.0, 0.3333, 0.3333, 0.3333]
    """
    z = normal_quantile(confidence)
    where = "cumulative_incidence(spells)"
    checked = spells_in(spells, by, returned=RETURNED, where=where)
    failed = checked.event > 0
    causes, code = _causes(spells, cause, names(by), failed, where)
    risk = risk_set(checked)
    grid = _grid(checked, risk, failed, code)
    incidence, variance = _incidence(risk, grid)
    std_error = np.sqrt(variance)
    inside = (incidence > 0) & (incidence < 1)
    lower, upper = log_log_limits(incidence, z * std_error)
    columns = {
        "time": risk.time[grid.row],
        "at_risk": risk.at_risk[grid.row],
        "events": grid.events,
        "incidence": incidence,
        "std_error": std_error,
        "lower": shown(lower, inside),
        "upper": shown(upper, inside),
    }
    return result_frame(causes, grid.pair, columns)


def _causes(
    spells: pl.DataFrame, cause: str, by: tuple[str, ...], failed: NDArray[np.bool_], where: str
) -> tuple[pl.DataFrame, Ints]:
    """Return every group with each cause it failed from, and the row of those that each failure has."""
    refuse_missing(spells, (cause,), where)
    named = spells.select(*by, cause=cause)
    missing = named["cause"].is_null().to_numpy() & failed
    refuse_rows(missing, f"a failure has no {cause}", where, "name its cause, even as `unknown`")
    return group_codes(named.filter(failed), (*by, "cause"))


def _grid(spells: Spells, risk: RiskSet, failed: NDArray[np.bool_], code: Ints) -> _Grid:
    pairs = int(code.max()) + 1 if code.size else 0
    group = np.zeros(pairs, dtype=np.int64)
    group[code] = spells.group[failed]
    length = np.bincount(risk.group, minlength=spells.groups)[group]
    start = np.searchsorted(risk.group, group)
    pair = np.repeat(np.arange(pairs), length)
    row = np.repeat(start, length) + place_in_group(pair)
    # where a cause's rows start in the grid, less where its group's rows start in the risk set
    shift = np.cumsum(length) - length - start
    events = np.bincount(risk.row_time[failed] + shift[code], minlength=pair.size)
    return _Grid(pair, row, events.astype(np.int64))


def _incidence(risk: RiskSet, grid: _Grid) -> tuple[Floats, Floats]:
    """Return incidence and variance; the square of what is carried on to t is expanded, so that t stays outside."""
    n, d = risk.at_risk.astype(np.float64), risk.events.astype(np.float64)
    survival = survival_product(risk)
    before = np.where(risk.place > 0, np.concatenate(([1.0], survival))[: survival.size], 1.0)
    with np.errstate(divide="ignore"):
        all_causes = np.where(n > d, d / (n * np.maximum(n - d, 1.0)), 0.0)
    n, before, all_causes = n[grid.row], before[grid.row], all_causes[grid.row]
    place = risk.place[grid.row]
    own = grid.events.astype(np.float64)
    incidence = running_sum(before * own / n, place)
    shared = before * own / n**2
    square = running_sum(all_causes, place)
    single = running_sum(incidence * all_causes + shared, place)
    rest = running_sum(before**2 * own * (n - own) / n**3 + incidence**2 * all_causes + 2 * incidence * shared, place)
    terms = np.stack([incidence**2 * square, -2 * incidence * single, rest])
    return incidence, without_rounding(terms.sum(axis=0), np.abs(terms).sum(axis=0))
