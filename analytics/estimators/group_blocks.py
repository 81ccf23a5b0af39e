"""Hand an estimator its spells a block of groups after the other, on all cores.

A block fits into the processor's cache: its temporaries cost far less there than those of ten million rows at once.
"""

from __future__ import annotations

import os
from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

import numpy as np

from analytics.estimators.spells_in import Spells

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

Result = TypeVar("Result")

SPELLS_PER_BLOCK = 2**17
"""A block ends with the first group that reaches this many; a group is never cut."""


def by_blocks(spells: Spells, work: Callable[[Spells], Result]) -> list[Result]:
    """Return what `work` makes of the spells of neighbouring groups, block after block; at least one block.

    Parameters
    ----------
    spells
        Checked spells.
    work
        Called with the spells of a block, whose groups are numbered from 0 and whose levels are its own; several
        threads may be in it at once.

    Examples
    --------
    >>> import polars as pl
    >>> from analytics.estimators.spells_in import spells_in
    >>> frame = pl.DataFrame({"entry": [0, 0], "exit": [2, 5], "event": [1, 1], "kind": ["b", "a"]})
    >>> by_blocks(spells_in(frame, "kind"), lambda part: part.exit.tolist())
    [[5, 2]]
    """
    order: Ints | None = None
    if (spells.group[1:] < spells.group[:-1]).any():
        # 16-bit numbers are sorted by counting
        narrow = spells.group.astype(np.uint16 if spells.groups <= 2**16 else np.int64)
        order = np.argsort(narrow, kind="stable")
    sizes = np.bincount(spells.group, minlength=spells.groups)
    firsts = _firsts(sizes)
    ends = np.concatenate(([0], np.cumsum(sizes)))

    def part(first: int, last: int) -> Result:
        rows = slice(ends[first], ends[last])
        found = rows if order is None else order[rows]
        group = np.repeat(np.arange(last - first), sizes[first:last])
        levels = spells.levels.slice(first, last - first)
        return work(Spells(spells.entry[found], spells.exit[found], spells.event[found], group, levels))

    lasts = [*firsts[1:], spells.groups]
    if len(firsts) == 1:
        return [part(firsts[0], lasts[0])]
    with ThreadPoolExecutor(max_workers=os.cpu_count()) as pool:
        return list(pool.map(part, firsts, lasts))


def _firsts(sizes: Ints) -> list[int]:
    """Return the first group of every block."""
    ends = np.cumsum(sizes)
    firsts, begin = [0], 0
    while True:
        last = int(np.searchsorted(ends, begin + SPELLS_PER_BLOCK)) + 1
        if last >= sizes.size:
            return firsts
        firsts.append(last)
        begin = int(ends[last - 1])
