"""Roots and maxima of many one-dimensional functions at once, by bracketing: no step can leave the bracket."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

GOLDEN = (5**0.5 - 1) / 2


def last_positive(f: Callable[[Floats], Floats], good: Floats, bad: Floats, steps: int = 60) -> Floats:
    """Return for each element the place between `good` and `bad` where `f` stops being positive.

    Parameters
    ----------
    f
        From an array to an array of the same shape; taken to be positive at `good` and not at `bad`.
    good, bad
        Ends of the brackets, in either order.
    steps
        Halvings of the bracket.

    Examples
    --------
    >>> last_positive(lambda x: 2 - x**2, np.array([0.0]), np.array([9.0])).round(6).tolist()
    [1.414214]
    """
    for _ in range(steps):
        middle = 0.5 * (good + bad)
        positive = f(middle) > 0
        good, bad = np.where(positive, middle, good), np.where(positive, bad, middle)
    return 0.5 * (good + bad)


def highest(f: Callable[[Floats], Floats], low: Floats, high: Floats, steps: int = 45) -> Floats:
    """Return for each element where `f` is highest between `low` and `high`, by golden section.

    Examples
    --------
    >>> highest(lambda x: -((x - 2) ** 2), np.array([0.0]), np.array([5.0])).round(5).tolist()
    [2.0]
    """
    for _ in range(steps):
        width = GOLDEN * (high - low)
        left, right = high - width, low + width
        falls = f(left) > f(right)
        low, high = np.where(falls, low, left), np.where(falls, right, high)
    return 0.5 * (low + high)


def reach(f: Callable[[Floats], Floats], start: Floats, direction: int, most: float = 2000.0) -> Floats:
    """Walk from `start`, in steps that double, until `f` is not positive; the end of the walk for each element.

    Where `f` is still positive `most` away, the walk ends there.
    """
    length = np.ones_like(start)
    while True:
        going = (f(start + direction * length) > 0) & (length < most)
        if not going.any():
            return start + direction * length
        length = np.where(going, 2 * length, length)
