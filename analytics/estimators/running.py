"""Running sums and products inside each group, all groups at once.

A plain cumulative sum minus its value at the group's start would let one group's rounding move another's figures.
Here a value meets only values of its own group, in an order that depends on its place in the group alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray


ROUNDING = 64 * float(np.finfo(np.float64).eps)
"""A sum below this share of the size of its terms is 0 but for rounding."""

MANY_ROWS = 64
"""Groups of so many rows are worth a pass of their own."""


def place_in_group(group: NDArray[np.int64]) -> NDArray[np.int64]:
    """Return 0, 1, 2... inside each run of equal group codes.

    Examples
    --------
    >>> place_in_group(np.array([0, 0, 3, 3, 3])).tolist()
    [0, 1, 0, 1, 2]
    """
    rows = np.arange(group.size)
    if group.size == 0:
        return rows
    begins = np.concatenate(([0], np.flatnonzero(group[1:] != group[:-1]) + 1))
    rows -= np.repeat(begins, np.diff(begins, append=group.size))
    return rows


def running_sum(values: NDArray[np.float64], place: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the sum up to and including each row, inside its group.

    Parameters
    ----------
    values
        Shape ``(k,)``, rows of one group side by side.
    place
        Shape ``(k,)``, 0, 1, 2... inside each group.

    Returns
    -------
    NDArray
        Shape ``(k,)``.

    Notes
    -----
    Groups of many rows are summed one after the other, the rest together by doubling: after step m a row holds the sum
    of its last 2**m rows.

    References
    ----------
    .. [1] Hillis and Steele (1986), Communications of the ACM 29(12), 1170-1183.

    Examples
    --------
    >>> running_sum(np.array([1.0, 2.0, 5.0, 1.0]), np.array([0, 1, 0, 1])).tolist()
    [1.0, 3.0, 5.0, 6.0]
    """
    return _running(values, place, np.add, 0.0)


def running_sum_from_end(values: NDArray[np.float64], group: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the sum from each row to the last of its group, rows of one group side by side.

    Examples
    --------
    >>> running_sum_from_end(np.array([1.0, 2.0, 5.0]), np.array([0, 0, 1])).tolist()
    [3.0, 2.0, 5.0]
    """
    backwards = running_sum(values[::-1], place_in_group(group[::-1]))
    return backwards[::-1].copy()


def running_product(values: NDArray[np.float64], place: NDArray[np.int64]) -> NDArray[np.float64]:
    """Return the product up to and including each row, inside its group; a 0 stays 0.

    Examples
    --------
    >>> running_product(np.array([0.5, 0.5, 0.0, 0.5]), np.array([0, 1, 0, 1])).tolist()
    [0.5, 0.25, 0.0, 0.0]
    """
    return _running(values, place, np.multiply, 1.0)


def _running(
    values: NDArray[np.float64], place: NDArray[np.int64], joined: np.ufunc, nothing: float
) -> NDArray[np.float64]:
    out = np.array(values, dtype=np.float64)
    begins = np.flatnonzero(place == 0)
    ends = np.concatenate((begins[1:], [out.size]))
    long = ends - begins >= MANY_ROWS
    for begin, end in zip(begins[long].tolist(), ends[long].tolist(), strict=True):
        joined.accumulate(out[begin:end], out=out[begin:end])
    if long.all():
        return out
    if long.any():
        short = ~np.repeat(long, ends - begins)
        out[short] = _running(out[short], place[short], joined, nothing)
        return out
    step = 1
    while step < out.size and (late := place[step:] >= step).any():
        out[step:] = joined(out[step:], np.where(late, out[:-step], nothing))
        step *= 2
    return out


def without_rounding(total: NDArray[np.float64], size: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return sums with 0 for those that are negative or nothing but rounding, `size` being that of their terms.

    Examples
    --------
    >>> without_rounding(np.array([1e-17, -1e-17, 0.5]), np.ones(3)).tolist()
    [0.0, 0.0, 0.5]
    """
    return np.where(total > ROUNDING * size, total, 0.0)
