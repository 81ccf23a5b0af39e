"""The robust variance of a mean cumulative count, without a table of clusters by failure times."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.running import place_in_group, running_sum, without_rounding

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.risk_set import RiskSet

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class _Stays:
    """Spells that see a failure time: cluster, first and last failure row they see, failures at their exit."""

    unit: Ints
    first: Ints
    last: Ints
    event: Ints


@dataclass(frozen=True, slots=True)
class _Level:
    """A running sum inside each group, up to and including each failure row, and just before it."""

    through: Floats
    before: Floats


@dataclass(frozen=True, slots=True)
class _Paths:
    """Clusters' rows at risk from each of their milestones on, and the settled part of their influence."""

    key: Ints
    unit: Ints
    group: Ints
    row: Ints
    at_risk: Ints
    settled: Floats
    span: int

    def before(self, unit: Ints, row: Ints, level: Floats) -> tuple[Ints, Floats]:
        """Return rows at risk and influence of clusters just before a failure row, `level` being the sum by then."""
        found = np.searchsorted(self.key, unit * self.span + row, side="right") - 1
        at_risk = self.at_risk[found]
        return at_risk, self.settled[found] - at_risk * level


def robust_variance(risk: RiskSet, event: Ints, unit: Ints) -> Floats:
    r"""Sum the squared influence of all clusters at each failure time.

    Parameters
    ----------
    risk
        Counts at the ``k`` failure times.
    event
        Shape ``(n,)``, failures at the exit of each spell.
    unit
        Shape ``(n,)``, code of the cluster each spell belongs to; no cluster spans two groups.

    Returns
    -------
    NDArray
        Shape ``(k,)``, :math:`V(t_j) = \sum_c \psi_c(t_j)^2`.

    Notes
    -----
    At a failure time the influence of cluster c moves by :math:`\Delta_c = dN_c / Y - y_c \delta`, with
    :math:`\delta = dN / Y^2` and :math:`y_c` of its rows at risk, so V grows by
    :math:`\sum_c (2 \psi_c \Delta_c + \Delta_c^2)`. That needs five sums per failure time only:
    :math:`P = \sum y_c \psi_c`, :math:`Q = \sum y_c^2`, :math:`R = \sum \psi_c dN_c`, :math:`T = \sum y_c dN_c` and
    :math:`U = \sum dN_c^2`. P changes by the moves of those at risk and where rows enter or leave, and there a
    cluster's influence is known in closed form. The work grows as n log n, not as clusters times failure times.

    References
    ----------
    .. [1] Lawless and Nadeau (1995), Technometrics 37(2), 158-168: the sum of squares itself.
    """
    if risk.time.size == 0:
        return np.zeros(0)
    stays = _stays(risk, event, unit)
    at_risk = risk.at_risk.astype(np.float64)
    rate = risk.events / at_risk**2
    level = _level(rate, risk.place)
    paths = _paths(risk, stays, level)
    q = _squares_at_risk(risk, paths)
    r, t, u = _sums_over_failed(risk, stays, paths, level)
    moved = _level(t / at_risk - rate * q, risk.place).before
    p = moved + _entering_and_leaving(risk, stays, paths, level)
    terms = np.stack([2 * r / at_risk, -2 * rate * p, u / at_risk**2, -2 * rate * t / at_risk, rate**2 * q])
    variance = running_sum(terms.sum(axis=0), risk.place)
    size = running_sum(np.abs(terms).sum(axis=0), risk.place)
    return without_rounding(variance, size)


def _stays(risk: RiskSet, event: Ints, unit: Ints) -> _Stays:
    sees = risk.row_time > risk.row_entry
    return _Stays(unit[sees], risk.row_entry[sees] + 1, risk.row_time[sees], event[sees])


def _level(rate: Floats, place: Ints) -> _Level:
    through = running_sum(rate, place)
    before = np.where(place > 0, np.concatenate(([0.0], through[:-1])), 0.0)
    return _Level(through, before)


def _paths(risk: RiskSet, stays: _Stays, level: _Level) -> _Paths:
    """Order every entry and exit of each cluster, and add up the influence that is settled by then."""
    unit = np.concatenate([stays.unit, stays.unit])
    group = np.tile(risk.group[stays.first], 2)
    row = np.concatenate([stays.first, stays.last + 1])
    change = np.concatenate([np.ones_like(stays.first), -np.ones_like(stays.last)])
    at_exit = stays.event / risk.at_risk[stays.last] - level.through[stays.last]
    settled = np.concatenate([level.before[stays.first], at_exit])
    span = risk.time.size + 1
    key = unit * span + row
    order = np.argsort(key, kind="stable")
    # every cluster leaves as often as it enters, so its count is back at 0 where the next cluster starts
    counted = np.cumsum(change[order])
    summed = running_sum(settled[order], place_in_group(unit[order]))
    return _Paths(key[order], unit[order], group[order], row[order], counted, summed, span)


def _squares_at_risk(risk: RiskSet, paths: _Paths) -> Floats:
    """Add up the squared rows at risk of all clusters at each failure row."""
    square = paths.at_risk.astype(np.float64) ** 2
    before = np.where(place_in_group(paths.unit) > 0, np.concatenate(([0.0], square[:-1])), 0.0)
    return running_sum(_at_rows(risk, paths.row, paths.group, square - before), risk.place)


def _sums_over_failed(risk: RiskSet, stays: _Stays, paths: _Paths, level: _Level) -> tuple[Floats, Floats, Floats]:
    """Sum influence times failures, rows at risk times failures, and squared failures of clusters that failed."""
    failed = stays.event > 0
    pair, back = np.unique(stays.unit[failed] * paths.span + stays.last[failed], return_inverse=True)
    failures = np.asarray(np.bincount(back, weights=stays.event[failed], minlength=pair.size), dtype=np.float64)
    unit, row = np.divmod(pair, paths.span)
    at_risk, influence = paths.before(unit, row, level.before[row])

    def summed(values: Floats) -> Floats:
        return np.asarray(np.bincount(row, weights=values, minlength=risk.time.size), dtype=np.float64)

    return summed(influence * failures), summed(at_risk * failures), summed(failures**2)


def _entering_and_leaving(risk: RiskSet, stays: _Stays, paths: _Paths, level: _Level) -> Floats:
    """Add up the influence that enters the risk set with rows, less what leaves it, just before each failure row."""
    group = risk.group[stays.first]
    enters = paths.before(stays.unit, stays.first, level.before[stays.first])[1]
    leaves = paths.before(stays.unit, stays.last + 1, level.through[stays.last])[1]
    net = _at_rows(risk, stays.first, group, enters) - _at_rows(risk, stays.last + 1, group, leaves)
    return running_sum(net, risk.place)


def _at_rows(risk: RiskSet, row: Ints, group: Ints, values: Floats) -> Floats:
    """Sum values by failure row; those after a group's last failure touch nothing."""
    rows = risk.time.size
    inside = (row < rows) & (risk.group[np.minimum(row, rows - 1)] == group)
    return np.asarray(np.bincount(row[inside], weights=values[inside], minlength=rows), dtype=np.float64)
