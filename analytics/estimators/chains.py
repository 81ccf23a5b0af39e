"""Follow items to the one that each points to: chains, and circles opened so that every chain has an end."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


def opened(step: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.bool_]]:
    """Open each circle at its smallest member, which then points to itself.

    Parameters
    ----------
    step
        Shape ``(n,)``, the item that each item points to; itself where it points nowhere.

    Returns
    -------
    tuple
        `step` with an end for every chain, and whether an item was a member of a circle of two or more.

    Notes
    -----
    Doubling: after at least n steps from everywhere only ends and members of circles are reached, and the least item
    met on the way round a circle is the same for all of its members.

    Examples
    --------
    >>> [array.tolist() for array in opened(np.array([2, 0, 1, 1, 4]))]
    [[0, 0, 1, 1, 4], [True, True, True, False, False]]
    """
    items = np.arange(step.size)
    reached, least = step, items
    for _ in range(step.size.bit_length()):
        least = np.minimum(least, least[reached])
        reached = reached[reached]
    circling = np.zeros(step.size, dtype=np.bool_)
    circling[reached] = True
    circling &= step != items
    return np.where(circling & (least == items), items, step), circling


def ends(step: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return the end of each item's chain; `step` as `opened` returns it.

    Examples
    --------
    >>> ends(np.array([1, 2, 2, 3])).tolist()
    [2, 2, 2, 3]
    """
    reached = step
    for _ in range(step.size.bit_length()):  # doubling: a chain of n links needs log2(n) passes
        reached = reached[reached]
    return reached
