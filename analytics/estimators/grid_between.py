"""Values between the points of an even grid, by a cubic through the four nearest ones."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def along(values: Floats, place: Floats) -> Floats:
    """Return values at fractional places along the last axis.

    Outside, values that fall outwards fall on in a straight line; others stay, for they need not go on rising.

    Parameters
    ----------
    values
        At least four points along the last axis.
    place
        In points, 0 for the first; same shape as `values` but for the last axis (1 broadcasts).

    Examples
    --------
    >>> along(np.array([[0.0, 1.0, 4.0, 9.0, 16.0]]), np.array([[-2.0, 2.5, 6.0]])).tolist()
    [[-2.0, 6.25, 16.0]]
    """
    last = values.shape[-1] - 1
    inside = np.clip(place, 0, last)
    start = np.clip(inside.astype(np.int64) - 1, 0, last - 3)
    x = inside - start
    total = np.zeros(np.broadcast_shapes(values.shape[:-1], place.shape[:-1]) + place.shape[-1:])
    for node, weight in enumerate(_weights(x)):
        total += weight * np.take_along_axis(values, np.broadcast_to(start + node, total.shape), axis=-1)
    first_step, last_step = values[..., 1:2] - values[..., :1], values[..., -1:] - values[..., -2:-1]
    total += np.minimum(place, 0) * np.maximum(first_step, 0) + np.maximum(place - last, 0) * np.minimum(last_step, 0)
    return total


def _weights(x: Floats) -> tuple[Floats, ...]:
    """Return the weights of points 0, 1, 2, 3 at `x`."""
    a, b, c, d = x, x - 1, x - 2, x - 3
    return -b * c * d / 6, a * c * d / 2, -a * b * d / 2, a * b * c / 6
