"""Residual life of a unit of unknown age, found fitted in a car of known age: the renewal law, tabulated.

The position has been renewed an unknown number of times since the car was built, always with the same life law. For a
car of age ``a`` the unit found there lasts beyond ``u`` with probability
``G(u|a) = S(a + u) + integral_0^a m(s) S(a - s + u) ds``, ``m`` the renewal density. A Weibull law has no scale of its
own, so one table per shape, in units of the median life, serves every component.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np
from scipy.special import gammaincc, gammaln

from analytics.estimators.shapes import LN2, SHAPE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

AGE_STEPS, OLDEST, AGE_BEND = 288, 60.0, 0.02
"""Car ages at joining, in median lives: 0 to `OLDEST`, even steps of ``log(1 + age / AGE_BEND)``."""

WAIT_POINTS, SHORTEST_WAIT, LONGEST_WAIT = 221, 1e-3, 60.0
"""Residual lives, in median lives: even steps of the log."""

CELL, CELLS = 0.0125, 1100
"""Cells of the renewal equation, in lives by which 63.2 % fail. Older cars than these cover get the last one's law."""

CELL_OVER_MEDIAN = CELL * LN2 ** (-1 / SHAPE)
"""Width of a cell in median lives, for each shape."""

LEAST = 1e-290
"""Smaller probabilities are written as this."""

EQUILIBRIUM = AGE_STEPS + 1
"""Row of the table for a car whose age is not known: the law at a random moment of endless renewals."""

AGE_SCALE = AGE_STEPS / np.log1p(OLDEST / AGE_BEND)
WAIT_SCALE = (WAIT_POINTS - 1) / np.log(LONGEST_WAIT / SHORTEST_WAIT)


@dataclass(frozen=True, slots=True)
class ResidualTables:
    """Logarithms of the residual law, a row per (car age, residual life) and a column per shape.

    Attributes
    ----------
    log_survival
        Shape ``((AGE_STEPS + 2) * WAIT_POINTS, shapes)``, log G.
    log_density
        The same shape, log g per median life.
    """

    log_survival: NDArray[np.float32]
    log_density: NDArray[np.float32]


@cache
def residual_tables() -> ResidualTables:
    """Return the tables, built on first use (about half a second) and kept for the process.

    Notes
    -----
    The renewal mass of a cell follows the two-cell rule: a sum of two lives whose cells are i and j falls into cell
    i + j or the next, half each. Against a direct computation with cells six times finer the interpolated logarithms
    are within 0.02 for shapes 0.5 to 2.8, 0.05 at 4.6, 0.08 at 0.25 and 0.3 at 12, wherever G is above exp(-9).
    """
    mass = _renewal_mass()
    ages = AGE_BEND * np.expm1(np.arange(AGE_STEPS + 1) / AGE_SCALE)
    wait = SHORTEST_WAIT * np.exp(np.arange(WAIT_POINTS) / WAIT_SCALE)
    size = (SHAPE.size, AGE_STEPS + 2, WAIT_POINTS)
    log_survival, log_density = np.empty(size, np.float32), np.empty(size, np.float32)
    for row, (shape, cell) in enumerate(zip(SHAPE.tolist(), CELL_OVER_MEDIAN.tolist(), strict=True)):
        age = np.minimum(ages, CELLS * cell)
        survival = np.exp(-_hazard(np.arange(CELLS + 1)[:, None] * cell + wait, shape))
        renewals = _mass_before(mass[row], age / cell)
        hazard = _hazard(age[:, None] + wait, shape)
        first = np.exp(-hazard)
        later = renewals @ (0.5 * (survival[1:] + survival[:-1]))
        density = renewals @ (survival[:-1] - survival[1:]) / cell
        still, ends = _equilibrium(shape, wait)
        log_survival[row] = np.log(np.maximum(np.vstack((first + later, still)), LEAST))
        own = shape * hazard / (age[:, None] + wait) * first
        log_density[row] = np.log(np.maximum(np.vstack((own + density, ends)), LEAST))
    return ResidualTables(_by_cell(log_survival), _by_cell(log_density))


def table_cells(log_age: Floats, log_wait: Floats) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """Return the four table rows around each point and their weights, for a bilinear look-up.

    Parameters
    ----------
    log_age
        Log of the car's age at joining over the median life; +inf for a car of unknown age (equilibrium law).
    log_wait
        Log of the residual life over the median life, same shape; cut at the ends of the table.

    Returns
    -------
    tuple of NDArray
        Rows and weights, one more axis of length 4 than the input.
    """
    (i, x), (j, y) = age_step(log_age), wait_step(log_wait)
    corner = i * np.int32(WAIT_POINTS) + j
    rows = np.stack((corner, corner + 1, corner + WAIT_POINTS, corner + WAIT_POINTS + 1), axis=-1)
    weights = np.stack(((1 - x) * (1 - y), (1 - x) * y, x * (1 - y), x * y), axis=-1)
    return rows, weights


def age_step(log_age: Floats) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """Return the step of the car's age below each point, as in `table_cells`, and how far beyond it the point lies."""
    cut = np.minimum(log_age, np.log(OLDEST))
    age = np.minimum(np.log1p(np.exp(cut) / AGE_BEND) * AGE_SCALE, AGE_STEPS)
    age = np.where(np.isposinf(log_age), EQUILIBRIUM, age)
    below = np.minimum(age, AGE_STEPS).astype(np.int32)
    return below, (age - below).astype(np.float32)


def wait_step(log_wait: Floats) -> tuple[NDArray[np.int32], NDArray[np.float32]]:
    """Return the step of the residual life below each point, as in `table_cells`, and how far beyond it lies."""
    wait = np.clip((log_wait - np.log(SHORTEST_WAIT)) * WAIT_SCALE, 0.0, WAIT_POINTS - 1)
    below = np.minimum(wait, WAIT_POINTS - 2).astype(np.int32)
    return below, (wait - below).astype(np.float32)


def _renewal_mass() -> Floats:
    """Return the expected renewals in each cell since building, ``(shapes, cells)``."""
    edges = np.arange(CELLS + 1) * CELL
    life = np.diff(-np.expm1(-(edges ** SHAPE[:, None])), axis=1)
    of_two = 0.5 * (life + np.hstack((np.zeros((SHAPE.size, 1)), life[:, :-1])))
    backwards = np.ascontiguousarray(of_two[:, ::-1])
    mass = np.zeros((SHAPE.size, CELLS))
    for j in range(CELLS):
        earlier = np.einsum("kj,kj->k", mass[:, :j], backwards[:, CELLS - 1 - j : CELLS - 1])
        mass[:, j] = (life[:, j] + earlier) / (1 - of_two[:, 0])
    return mass


def _hazard(time: Floats, shape: float) -> Floats:
    return LN2 * np.exp(shape * np.log(time))


def _mass_before(mass: Floats, age: Floats) -> Floats:
    """Return the renewal mass by cell of time since renewal, for cars of each age in cells: ``(ages, cells)``."""
    whole = np.minimum(age.astype(np.int64), CELLS - 1)
    part = (age - whole)[:, None]
    shifted = np.lib.stride_tricks.sliding_window_view(np.concatenate((mass[::-1], np.zeros(CELLS))), CELLS)
    between: Floats = (1 - part) * shifted[CELLS - whole] + part * shifted[CELLS - whole - 1]
    return between


def _equilibrium(shape: float, wait: Floats) -> tuple[Floats, Floats]:
    """Return G and g at a random moment: Q(1/shape, H(u)) and S(u) / mean life."""
    hazard = _hazard(wait, shape)
    mean = np.exp(gammaln(1 + 1 / shape)) * LN2 ** (-1 / shape)
    return np.asarray(gammaincc(1 / shape, hazard), dtype=np.float64), np.exp(-hazard) / mean


def _by_cell(table: NDArray[np.float32]) -> NDArray[np.float32]:
    return np.ascontiguousarray(table.transpose(1, 2, 0)).reshape(-1, SHAPE.size)
