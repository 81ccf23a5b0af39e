"""Points of what is believed about a life or a survival, read off the weights of a grid without sorting or drawing."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.searching import last_positive
from analytics.estimators.shapes import LOG_LN2, LOG_SHAPE, log_life_over_median

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_laws import LifeLaws

    Floats = NDArray[np.float64]

FINER = 4
"""A step of the log shape is divided by this where many failures make the likelihood narrow."""

NARROW_FROM = 40
"""Failures from which the shapes are divided."""

STEPS = 30
"""Halvings in the search for a quantile."""


@dataclass(frozen=True, slots=True)
class LawTable:
    """Cumulative weights along the lives, cell by cell.

    Attributes
    ----------
    log_shape
        Shape ``(shapes,)``.
    first, step
        Shape ``(groups,)``: left edge of the first cell of log median life, in days or km, and the cells' width.
    below
        Shape ``(groups, shapes, lives + 1)``: weight of the cells left of each edge; sums to 1 over the shapes.
    """

    log_shape: Floats
    first: Floats
    step: Floats
    below: Floats

    def share_below(self, log_life50: Floats) -> Floats:
        """Return the weight below log median lives ``(groups, shapes, k)``, over all shapes: ``(groups, k)``."""
        cells = self.below.shape[2] - 1
        place = np.clip((log_life50 - self.first[:, None, None]) / self.step[:, None, None], 0.0, cells)
        cell = np.minimum(place, cells - 1).astype(np.int64)
        low, high = (np.take_along_axis(self.below, cell + edge, axis=2) for edge in (0, 1))
        share: Floats = (low + (place - cell) * (high - low)).sum(axis=1)
        return share

    def points(self, slope: Floats, shift: Floats, shares: Sequence[float]) -> Floats:
        """Return quantiles of ``slope * log life50 + shift``, ``(groups, len(shares))``.

        Parameters
        ----------
        slope
            Shape ``(shapes,)``, above 0.
        shift
            Shape ``(groups, shapes)`` or ``(shapes,)``.
        shares
            Between 0 and 1.
        """
        shift = np.broadcast_to(shift, (self.first.size, slope.size))
        last = self.first + self.step * (self.below.shape[2] - 1)
        low = (slope * self.first[:, None] + shift).min(axis=1, keepdims=True)
        high = (slope * last[:, None] + shift).max(axis=1, keepdims=True)
        wanted = np.asarray(shares)

        def still_below(value: Floats) -> Floats:
            return wanted - self.share_below((value[:, None, :] - shift[:, :, None]) / slope[:, None])

        return last_positive(still_below, low + 0 * wanted, high + 0 * wanted, STEPS)

    def life(self, failed: float, shares: Sequence[float]) -> Floats:
        """Return points of the log life by which a share `failed` has failed, ``(groups, k)``, days or km."""
        return self.points(np.ones_like(self.log_shape), log_life_over_median(failed, np.exp(self.log_shape)), shares)

    def survival(self, log_age: Floats, shares: Sequence[float]) -> Floats:
        """Return points of the survival at log ages ``(groups,)``: ``(groups, k)``, each between 0 and 1.

        Notes
        -----
        -log H(age) = shape (log life50 - log age) - log ln 2 rises with the survival.
        """
        shape = np.exp(self.log_shape)
        value = self.points(shape, -shape * log_age[:, None] - LOG_LN2, shares)
        return np.exp(-np.exp(np.minimum(-value, math.log(700.0))))

    def shape(self, shares: Sequence[float]) -> Floats:
        """Return points of the log shape, ``(groups, k)``; each shape's weight is spread over its cell."""
        step = self.log_shape[1] - self.log_shape[0]
        edges = np.concatenate((self.log_shape - step / 2, [self.log_shape[-1] + step / 2]))
        below = np.cumsum(np.pad(self.below[:, :, -1], ((0, 0), (1, 0))), axis=1)
        wanted = np.asarray(shares)
        cell = (below[:, 1:-1, None] < wanted).sum(axis=1)
        low, high = (np.take_along_axis(below, cell + edge, axis=1) for edge in (0, 1))
        points: Floats = edges[cell] + step * (wanted - low) / np.maximum(high - low, np.finfo(np.float64).tiny)
        return points


def law_table(laws: LifeLaws) -> LawTable:
    """Return the cumulative weights of laws of which none, or every one, has `NARROW_FROM` failures."""
    log_shape, log_weight = LOG_SHAPE, laws.log_weight
    if (laws.failures >= NARROW_FROM).any():
        log_shape, log_weight = _between_shapes()[0], _between_shapes()[1] @ log_weight
    weight = np.exp(log_weight - log_weight.max(axis=(1, 2), keepdims=True))
    below = np.cumsum(np.pad(weight, ((0, 0), (0, 0), (1, 0))), axis=2)
    below /= below[:, :, -1].sum(axis=1)[:, None, None]
    step = laws.log_life50[:, 1] - laws.log_life50[:, 0]
    return LawTable(log_shape, np.log(laws.yardstick) + laws.log_life50[:, 0] - step / 2, step, below)


@cache
def _between_shapes() -> tuple[Floats, Floats]:
    """Return finer log shapes, and the weights of a cubic through the four points of the grid around each."""
    last = LOG_SHAPE.size - 1
    place = np.arange(last * FINER + 1) / FINER
    start = np.clip(place.astype(np.int64) - 1, 0, last - 3)
    weights = np.zeros((place.size, LOG_SHAPE.size))
    for node in range(4):
        others = [other for other in range(4) if other != node]
        ratio = np.prod([(place - start - other) / (node - other) for other in others], axis=0)
        weights[np.arange(place.size), start + node] = ratio
    return np.interp(place, np.arange(LOG_SHAPE.size), LOG_SHAPE), weights
