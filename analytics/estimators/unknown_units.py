"""Likelihood of units of unknown age on a grid: look-ups in the renewal tables, summed per group."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from scipy import sparse

from analytics.estimators.known_units import log_fails_within, log_or_lowest
from analytics.estimators.renewal import SHORTEST_WAIT, residual_tables, table_cells
from analytics.estimators.shapes import SHAPE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

ROWS_AT_ONCE = 4096
"""Spells looked up in one go; bounds the memory."""


def unknown_log_likelihood(spells: LifeSpells, log_life50: Floats) -> Floats:
    """Return the log likelihood of units of unknown age, ``(groups, shapes, lives)``.

    Parameters
    ----------
    spells
        Units of unknown age only.
    log_life50
        Shape ``(groups, lives)``, log of median lives as shares of each group's yardstick.

    Notes
    -----
    With u the time since the unit was first seen and a the age of its car then: a failure gives log g(u|a), a
    censored unit log G(u|a), a silent fault log(G(lower|a) - G(upper|a)); a unit seen from u0 on only (after a
    lay-up) takes off log G(u0|a).
    """
    total = np.zeros((spells.groups, SHAPE.size, log_life50.shape[1]))
    if spells.group.size == 0:
        return total
    until = np.where(spells.exact, 0.0, spells.lower)
    for time, sign in ((until, 1.0), (spells.entry, -1.0)):
        rows = time > 0
        total += sign * _summed(spells.where(rows), time[rows], log_life50, density=False)
    failed = spells.where(spells.exact)
    total += _summed(failed, failed.exit, log_life50, density=True)
    total -= failed.count()[:, None, None] * log_life50[:, None, :]
    return total + _silent_faults(spells.where(spells.found), log_life50)


def _summed(spells: LifeSpells, time: Floats, log_life50: Floats, *, density: bool) -> Floats:
    """Return the sum of log G (or log g) at `time` over the spells of each group."""
    total = np.zeros((spells.groups, log_life50.shape[1], SHAPE.size))
    for start in range(0, time.size, ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        group = spells.group[part]
        first, last = int(group[0]), int(group[-1]) + 1
        found = looked_up(spells.joined[part], time[part], log_life50[group], group - first, density=density)
        total[first:last] += found
    return np.ascontiguousarray(total.transpose(0, 2, 1))


def _silent_faults(spells: LifeSpells, log_life50: Floats) -> Floats:
    """Return the sum of log(1 - G(exit) / G(lower)) over the silent faults of each group."""
    total = np.zeros((spells.groups, SHAPE.size, log_life50.shape[1]))
    for start in range(0, spells.group.size, ROWS_AT_ONCE // 8):
        part = slice(start, start + ROWS_AT_ONCE // 8)
        group, joined = spells.group[part], spells.joined[part]
        lives, each = log_life50[group], np.arange(group.size)
        at_exit = looked_up(joined, spells.exit[part], lives, each, density=False)
        at_lower = looked_up(joined, spells.lower[part], lives, each, density=False)
        hazard = np.maximum(at_lower - at_exit, np.exp(-87.0))
        np.add.at(total, group, log_fails_within(np.log(hazard)).transpose(0, 2, 1))
    return total


def looked_up(joined: Floats, time: Floats, log_life50: Floats, into: Counts, *, density: bool) -> Floats:
    """Return log G (or log g per median life) summed over rows, ``(sums, lives, shapes)``.

    Parameters
    ----------
    joined, time
        Shape ``(n,)``: age of the car when the unit was first seen (+inf = not known), and time since.
    log_life50
        Shape ``(n, lives)``.
    into
        Shape ``(n,)``: which sum a row belongs to, not falling, from 0.
    density
        Whether log g is asked for.

    Notes
    -----
    The bilinear weights do not depend on the shape. Written as a sparse matrix they turn all look-ups into one
    product with the table. Below the table's shortest wait log G goes to 0 in proportion to the time.
    """
    tables = residual_tables()
    table = tables.log_density if density else tables.log_survival
    log_wait = log_or_lowest(time)[:, None] - log_life50
    cells, weights = table_cells(log_or_lowest(joined)[:, None] - log_life50, log_wait)
    if not density:
        weights *= np.exp(np.minimum(log_wait - np.log(SHORTEST_WAIT), 0.0)).astype(np.float32)[..., None]
    return _product(cells, weights, into, table)


def _product(
    cells: NDArray[np.int32], weights: NDArray[np.float32], into: Counts, table: NDArray[np.float32]
) -> Floats:
    """Return ``sum over rows of weights @ table[cells]``; rows of one sum lie side by side."""
    _, lives, corners = cells.shape
    sums = int(into[-1]) + 1
    per_sum = np.bincount(into, minlength=sums) * corners
    ends = np.concatenate(([0], np.cumsum(np.tile(per_sum, lives))))
    by_life = weights.transpose(1, 0, 2).ravel(), cells.transpose(1, 0, 2).ravel()
    look_up = sparse.csr_array((*by_life, ends.astype(np.int32)), shape=(sums * lives, table.shape[0]))
    found = np.asarray(look_up @ table, dtype=np.float64)
    return found.reshape(lives, sums, table.shape[1]).transpose(1, 0, 2)
