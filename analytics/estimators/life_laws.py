"""Laws of life as weights on a grid of shapes and median lives, and draws from them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.result_frame import result_frame
from analytics.estimators.seeds import generator
from analytics.estimators.shapes import LOG_LN2, LOG_SHAPE, LOG_SHAPE_STEP, SHAPE

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

LOWEST = -1e4
"""Logs of weights are cut here, below the highest."""


@dataclass(frozen=True, slots=True)
class LifeLaws:
    """What is believed about the Weibull law of each group.

    Attributes
    ----------
    levels
        Grouping columns, a row per group.
    units, failures
        Shape ``(groups,)``.
    bound_only
        Shape ``(groups,)``: whether only lower limits of lives may be read off; so without failure and family.
    yardstick
        Shape ``(groups,)``, days or km in which lives of the grid are counted.
    log_life50
        Shape ``(groups, lives)``, evenly spaced.
    log_weight
        Shape ``(groups, shapes, lives)``, log of the weight of each cell, highest 0 in each group.
    """

    levels: pl.DataFrame
    units: Counts
    failures: Counts
    bound_only: NDArray[np.bool_]
    yardstick: Floats
    log_life50: Floats
    log_weight: Floats

    @property
    def weight(self) -> Floats:
        """Return the weights, summing to 1 in each group."""
        weight = np.exp(self.log_weight)
        share: Floats = weight / weight.sum(axis=(1, 2), keepdims=True)
        return share

    def only(self, rows: Counts) -> LifeLaws:
        """Return the laws of some groups, by row number."""
        return LifeLaws(
            self.levels[rows],
            self.units[rows],
            self.failures[rows],
            self.bound_only[rows],
            self.yardstick[rows],
            self.log_life50[rows],
            self.log_weight[rows],
        )

    def draws(self, count: int, seed: str) -> pl.DataFrame:
        """Draw laws of each group for a forecast.

        Parameters
        ----------
        count
            Draws per group.
        seed
            Any text. A group's draws depend on it and on the group's own levels only (rule 7).

        Returns
        -------
        DataFrame
            The grouping columns, `draw` (0, 1, 2...), `shape`, `life` (63.2 % failed; days or km).

        Notes
        -----
        One draw from each of `count` equal slices of the weights, in random order: less noise than free draws. Within
        a cell shape and median life are uniform in their logs.
        """
        groups = self.failures.size
        cumulative = np.cumsum(self.weight.reshape(groups, self._cells), axis=1)
        law = np.empty((groups, 2, count))
        for row in range(groups):
            law[row] = self._drawn(row, cumulative[row], count, seed)
        drawn = pl.Series(np.tile(np.arange(count), groups))
        columns = {"draw": drawn, "shape": pl.Series(law[:, 0].ravel()), "life": pl.Series(law[:, 1].ravel())}
        return result_frame(self.levels, np.repeat(np.arange(groups), count), columns)

    def heaviest(self, count: int) -> pl.DataFrame:
        """Return the heaviest cells of each group: grouping columns, `shape`, `life`, `weight` (sums to 1)."""
        groups = np.arange(self.failures.size)
        weight = self.weight.reshape(groups.size, self._cells)
        cells = np.argsort(-weight, axis=1, kind="stable")[:, :count]
        kept = np.take_along_axis(weight, cells, axis=1)
        shape, log_life = self._law(groups[:, None], cells)
        columns = {
            "shape": shape.ravel(),
            "life": np.exp(log_life).ravel(),
            "weight": (kept / kept.sum(axis=1, keepdims=True)).ravel(),
        }
        return result_frame(self.levels, np.repeat(groups, cells.shape[1]), columns)

    @property
    def _cells(self) -> int:
        return int(np.prod(self.log_weight.shape[1:]))

    def _drawn(self, row: int, cumulative: Floats, count: int, seed: str) -> tuple[Floats, Floats]:
        rng = generator(seed, self.levels.row(row) if self.levels.width else ())
        places = (np.arange(count) + rng.random(count)) / count
        cells = np.minimum(np.searchsorted(cumulative, places * cumulative[-1]), cumulative.size - 1)
        which, place = np.divmod(rng.permutation(cells), self.log_life50.shape[1])
        step = self.log_life50[row, 1] - self.log_life50[row, 0]
        shape = np.exp(LOG_SHAPE[which] + LOG_SHAPE_STEP * (rng.random(count) - 0.5))
        log_life50 = np.log(self.yardstick[row]) + self.log_life50[row, place] + step * (rng.random(count) - 0.5)
        return shape, np.exp(log_life50 - LOG_LN2 / shape)

    def _law(self, rows: Counts, cells: Counts) -> tuple[Floats, Floats]:
        """Return shape and log life (63.2 % failed, days or km) of cells numbered shape by shape."""
        which, place = np.divmod(cells, self.log_life50.shape[1])
        log_life50 = np.log(self.yardstick[rows]) + self.log_life50[rows, place]
        return SHAPE[which], log_life50 - LOG_LN2 / SHAPE[which]


def log_prior(parameters: Parameters) -> Floats:
    """Return the log prior of the shape at each point of the grid, normal in log shape; ``(shapes,)``."""
    centre, spread = parameters.prior_log_shape_mean, parameters.prior_log_shape_sd
    prior: Floats = -0.5 * ((LOG_SHAPE - centre) / spread) ** 2
    return prior


def own_log_weight(grid: LifeGrid, failures: Counts, parameters: Parameters, power: float = 1.0) -> Floats:
    """Return each group's posterior from its own units: flat in log life where a unit has failed.

    Parameters
    ----------
    grid, failures
        Likelihood and failures of each group.
    parameters
        Prior of the log shape.
    power
        Groups without failure only: how many failures the law is given in place of none. 1 is the exact bound.

    Returns
    -------
    NDArray
        Shape ``(groups, shapes, lives)``, highest 0 in each group.

    Notes
    -----
    Without a failure a flat prior has no end. For each shape the law flat in rate = life**-shape is taken instead
    (``power = 1``: the rate is Gamma(1, W), so its 95 % point is the exact bound -log(0.05) / W), normalised, and the
    shapes are mixed over the prior.
    """
    none = failures == 0
    value = grid.log_likelihood - power * none[:, None, None] * SHAPE[:, None] * grid.log_life50[:, None, :]
    if none.any():
        highest = value[none].max(axis=2, keepdims=True)
        of_shape = highest + np.log(np.exp(value[none] - highest).sum(axis=2, keepdims=True))
        value[none] -= of_shape
    return highest_zero(value + log_prior(parameters)[:, None])


def highest_zero(log_weight: Floats) -> Floats:
    """Return logs of weights moved so that each group's highest is 0, cut at `LOWEST`."""
    moved: Floats = np.maximum(log_weight - log_weight.max(axis=(1, 2), keepdims=True), LOWEST)
    return moved
