"""Groups are reckoned side by side: NumPy lets go of the interpreter, and no group's draws depend on another's."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

MOST_THREADS = 4
"""More gain nothing: what is not NumPy's runs in one thread at a time."""

Given = TypeVar("Given")
Found = TypeVar("Found")


def threads() -> int:
    """Return how many threads are worth starting: the cores this process may use, at most `MOST_THREADS`."""
    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return min(cores, MOST_THREADS)


def side_by_side(work: Callable[[Given], Found], each: Sequence[Given]) -> list[Found]:
    """Return what `work` makes of each, in their order; a failure of one stops those that were not begun.

    Examples
    --------
    >>> side_by_side(lambda number: 2 * number, [3, 1, 2])
    [6, 2, 4]
    """
    if threads() == 1 or len(each) < 2:
        return [work(one) for one in each]
    pool = ThreadPoolExecutor(threads())
    try:
        return list(pool.map(work, each))
    finally:
        pool.shutdown(cancel_futures=True)
