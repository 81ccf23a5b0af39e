"""Hand an estimator its spells a block of groups after the other.

A block fits into the processor's cache: its temporaries cost far less there than those of ten million rows at once.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.spells_in import Spells

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

SPELLS_PER_BLOCK = 2**16
"""A block ends with the first group that reaches this many; a group is never cut."""


def blocks(spells: Spells) -> Iterator[tuple[int, Spells]]:
    """Yield the spells of neighbouring groups, numbered from 0, and the number of the first group; at least one block.

    Examples
    --------
    >>> import polars as pl
    >>> from analytics.estimators.spells_in import spells_in
    >>> frame = pl.DataFrame({"entry": [0, 0], "exit": [2, 5], "event": [1, 1], "kind": ["b", "a"]})
    >>> [(first, part.exit.tolist()) for first, part in blocks(spells_in(frame, "kind"))]
    [(0, [5, 2])]
    """
    order: Ints | None = None
    if (spells.group[1:] < spells.group[:-1]).any():
        # 16-bit numbers are sorted by counting
        narrow = spells.group.astype(np.uint16 if spells.groups <= 2**16 else np.int64)
        order = np.argsort(narrow, kind="stable")
    sizes = np.bincount(spells.group, minlength=spells.groups)
    ends = np.cumsum(sizes)
    first, begin = 0, 0
    while True:
        last = min(int(np.searchsorted(ends, begin + SPELLS_PER_BLOCK)) + 1, spells.groups)
        end = int(ends[last - 1]) if last else 0
        rows = slice(begin, end) if order is None else order[begin:end]
        yield (
            first,
            Spells(
                spells.entry[rows],
                spells.exit[rows],
                spells.event[rows],
                np.repeat(np.arange(last - first), sizes[first:last]),
                spells.levels.slice(first, last - first),
            ),
        )
        first, begin = last, end
        if first >= spells.groups:
            return
