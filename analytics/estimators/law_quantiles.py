"""Points of what is believed about a life or a survival, read off the weights of a grid without sorting or drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.grid_between import along
from analytics.estimators.searching import last_positive
from analytics.estimators.shapes import LOG_LN2, LOG_SHAPE, log_life_over_median

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_laws import LifeLaws

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

NEGLIGIBLE = 16.0
"""Shapes whose log weight lies this far below the highest are left out: many failures leave few shapes."""

STEPS = 25
"""Halvings in the search for a quantile."""

ROWS_AT_ONCE = 512
"""Laws or questions handled in one go; bounds the memory."""


@dataclass(frozen=True, slots=True)
class LawTable:
    """Cumulative weights along the lives, cell by cell.

    Attributes
    ----------
    log_shape
        Shape ``(groups, shapes)``, evenly spaced over the shapes that matter in each group.
    first, step
        Shape ``(groups,)``: left edge of the first cell of log median life, in days or km, and the cells' width.
    below
        Shape ``(groups, shapes, lives + 1)``: weight of the cells left of each edge; sums to 1 over the shapes.
    """

    log_shape: Floats
    first: Floats
    step: Floats
    below: Floats

    def life(self, failed: float, shares: Sequence[float]) -> Floats:
        """Return points of the log life by which a share `failed` has failed, ``(groups, k)``, days or km."""
        shift = log_life_over_median(failed, np.exp(self.log_shape))
        return self._points(np.arange(self.first.size), np.ones_like(shift), shift, shares)

    def survival(self, row: Counts, log_age: Floats, shares: Sequence[float]) -> Floats:
        """Return points of the survival of the law in each `row` at a log age, ``(rows, k)``, between 0 and 1.

        Notes
        -----
        -log H(age) = shape (log life50 - log age) - log ln 2 rises with the survival.
        """
        shape = np.exp(self.log_shape[row])
        value = self._points(row, shape, -shape * log_age[:, None] - LOG_LN2, shares)
        return np.exp(-np.exp(np.minimum(-value, math.log(700.0))))

    def shape(self, shares: Sequence[float]) -> Floats:
        """Return points of the log shape, ``(groups, k)``; each shape's weight is spread over its cell."""
        step = self.log_shape[:, 1:2] - self.log_shape[:, :1]
        below = np.cumsum(np.pad(self.below[:, :, -1], ((0, 0), (1, 0))), axis=1)
        wanted = np.asarray(shares)
        cell = (below[:, 1:-1, None] < wanted).sum(axis=1)
        low, high = (np.take_along_axis(below, cell + edge, axis=1) for edge in (0, 1))
        part = (wanted - low) / np.maximum(high - low, np.finfo(np.float64).tiny)
        points: Floats = self.log_shape[:, :1] + step * (cell - 0.5 + part)
        return points

    def _points(self, row: Counts, slope: Floats, shift: Floats, shares: Sequence[float]) -> Floats:
        """Return quantiles of ``slope * log life50 + shift``, shape by shape above 0, of the law in each row."""
        parts = [slice(start, start + ROWS_AT_ONCE) for start in range(0, row.size, ROWS_AT_ONCE)]
        found = [self._points_of(row[part], slope[part], shift[part], np.asarray(shares)) for part in parts]
        return np.concatenate([np.empty((0, len(shares))), *found])

    def _points_of(self, row: Counts, slope: Floats, shift: Floats, shares: Floats) -> Floats:
        cells = self.below.shape[2] - 1
        first, step = self.first[row, None], self.step[row, None]
        low = (slope * first + shift).min(axis=1, keepdims=True)
        high = (slope * (first + step * cells) + shift).max(axis=1, keepdims=True)
        # the place of a value among the cells of a shape is start + scale * value
        scale = (1 / (slope * step))[:, :, None]
        start = (-(shift / slope + first) / step)[:, :, None]
        flat, base = self.below.ravel(), ((row[:, None] * slope.shape[1] + np.arange(slope.shape[1])) * (cells + 1))

        def still_below(value: Floats) -> Floats:
            place = np.clip(start + scale * value[:, None, :], 0.0, cells)
            cell = np.minimum(place.astype(np.int64), cells - 1)
            at = base[:, :, None] + cell
            left = flat[at]
            share: Floats = (left + (place - cell) * (flat[at + 1] - left)).sum(axis=1)
            return shares - share

        return last_positive(still_below, low + 0 * shares, high + 0 * shares, STEPS)


def law_table(laws: LifeLaws) -> LawTable:
    """Return the cumulative weights of laws, over as many shapes as the grid has, laid where they matter."""
    groups, shapes, lives = laws.log_weight.shape
    below = np.zeros((groups, shapes, lives + 1))
    log_shape = np.empty((groups, shapes))
    for start in range(0, groups, ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        log_shape[part], log_weight = _where_shapes_matter(laws.log_weight[part])
        weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
        np.cumsum(weight, axis=2, out=below[part, :, 1:])
    below /= below[:, :, -1].sum(axis=1)[:, None, None]
    step = laws.log_life50[:, 1] - laws.log_life50[:, 0]
    return LawTable(log_shape, np.log(laws.yardstick) + laws.log_life50[:, 0] - step / 2, step, below)


def _where_shapes_matter(log_weight: Floats) -> tuple[Floats, Floats]:
    """Return log shapes spread over those of weight, and the log weights there, by a cubic between the grid's."""
    last = LOG_SHAPE.size - 1
    highest = log_weight.max(axis=2)
    good = highest > highest.max(axis=1, keepdims=True) - NEGLIGIBLE
    first = np.maximum(good.argmax(axis=1) - 1, 0)
    final = np.minimum(last + 1 - good[:, ::-1].argmax(axis=1), last)
    place = first[:, None] + (final - first)[:, None] * np.linspace(0.0, 1.0, LOG_SHAPE.size)
    log_shape = LOG_SHAPE[0] + (LOG_SHAPE[1] - LOG_SHAPE[0]) * place
    between = along(np.ascontiguousarray(log_weight.transpose(0, 2, 1)), place[:, None, :])
    return log_shape, np.ascontiguousarray(between.transpose(0, 2, 1))
