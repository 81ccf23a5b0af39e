"""Work on pieces side by side, in threads: NumPy lets go of the interpreter meanwhile."""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

Given = TypeVar("Given")
Found = TypeVar("Found")


def threads() -> int:
    """Return how many threads are worth starting: the cores that this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def side_by_side(work: Callable[[Given], Found], each: Sequence[Given]) -> list[Found]:
    """Return what `work` makes of each, in their order; a failure of one stops those that were not begun.

    Parameters
    ----------
    work
        Called once with each. Several threads may be in it at once, so what it makes of one must not depend on another.
    each
        The pieces. One piece, or one core, starts no thread.

    Examples
    --------
    >>> side_by_side(lambda number: 2 * number, [3, 1, 2])
    [6, 2, 4]
    """
    many = min(threads(), len(each))
    if many < 2:
        return [work(one) for one in each]
    pool = ThreadPoolExecutor(many)
    try:
        return list(pool.map(work, each))
    finally:
        pool.shutdown(cancel_futures=True)
