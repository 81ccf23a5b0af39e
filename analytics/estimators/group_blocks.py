"""Hand an estimator its spells a block of groups after the other, on all cores.

A block fits into the processor's cache: its temporaries cost far less there than those of ten million rows at once.
Spells whose groups are mixed are brought together a stretch of rows after the other, which also fits there.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from analytics.estimators.side_by_side import side_by_side
from analytics.estimators.spells_in import Spells

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Columns = tuple[NDArray[Any], ...]

Result = TypeVar("Result")

SPELLS_PER_BLOCK = 2**16
"""A block ends with the first group that reaches this many; a group is never cut."""

ROWS_PER_STRETCH = 2**17
"""So many rows at a time are put into the order of the blocks."""


def by_blocks(spells: Spells, work: Callable[[Spells], Result]) -> list[Result]:
    """Return what `work` makes of the spells of neighbouring groups, block after block; at least one block.

    Parameters
    ----------
    spells
        Checked spells.
    work
        Called with the spells of a block, whose groups are numbered from 0 and whose levels are its own; rows of one
        group keep their order, but need not lie side by side. Several threads may be in it at once.

    Examples
    --------
    >>> import polars as pl
    >>> from analytics.estimators.spells_in import spells_in
    >>> frame = pl.DataFrame({"entry": [0, 0], "exit": [2, 5], "event": [1, 1], "kind": ["b", "a"]})
    >>> by_blocks(spells_in(frame, "kind"), lambda part: sorted(part.exit.tolist()))
    [[2, 5]]
    """
    columns: Columns = (spells.entry, spells.exit, spells.event, spells.group)
    in_order = not (spells.group[1:] < spells.group[:-1]).any()
    if in_order:
        ends = np.searchsorted(spells.group, np.arange(spells.groups), side="right")
    else:
        ends = np.cumsum(np.bincount(spells.group, minlength=spells.groups))
    firsts = _firsts(ends)
    if len(firsts) == 1:
        return [work(spells)]
    lasts = np.append(firsts[1:], spells.groups)
    bounds = np.append(0, ends[lasts - 1])[None, :]

    def part(block: int) -> Result:
        entry, leave, event, group = _rows(columns, bounds[:, block], bounds[:, block + 1])
        first, last = firsts[block], lasts[block]
        return work(Spells(entry, leave, event, group - first, spells.levels.slice(first, last - first)))

    if not in_order:
        block_of = np.searchsorted(lasts, np.arange(spells.groups), side="right")
        columns, bounds = _brought_together(columns, block_of)
    return side_by_side(part, range(len(firsts)))


def _brought_together(columns: Columns, block_of: Ints) -> tuple[Columns, Ints]:
    """Put the rows of each stretch into the order of their blocks; and tell where each block begins in each stretch.

    The last of `columns` are the groups, `block_of` says the block of each. Returned are the columns and the bounds,
    ``(stretches, blocks + 1)``.
    """
    blocks = int(block_of[-1]) + 1
    # 8-bit numbers are sorted by counting, and few large arrays cost the system far less than many small ones
    code = block_of.astype(np.uint8 if blocks <= 2**8 else np.int64)
    moved = tuple(np.empty_like(column) for column in columns)

    def stretch(begin: int) -> Ints:
        rows = slice(begin, begin + ROWS_PER_STRETCH)
        block = code.take(columns[-1][rows])
        order = np.argsort(block, kind="stable")
        for column, out in zip(columns, moved, strict=True):
            column[rows].take(order, out=out[rows], mode="clip")
        return begin + np.append(0, np.cumsum(np.bincount(block, minlength=blocks)))

    return moved, np.stack(side_by_side(stretch, range(0, columns[-1].size, ROWS_PER_STRETCH)))


def _rows(columns: Columns, begins: Ints, ends: Ints) -> Columns:
    """Return the rows of a block, whose pieces begin and end so."""
    pieces = [slice(begin, end) for begin, end in zip(begins.tolist(), ends.tolist(), strict=True)]
    if len(pieces) == 1:
        return tuple(column[pieces[0]] for column in columns)
    return tuple(np.concatenate([column[piece] for piece in pieces]) for column in columns)


def _firsts(ends: Ints) -> list[int]:
    """Return the first group of every block, from the number of spells in all groups up to each."""
    firsts, begin = [0], 0
    while True:
        last = int(np.searchsorted(ends, begin + SPELLS_PER_BLOCK)) + 1
        if last >= ends.size:
            return firsts
        firsts.append(last)
        begin = int(ends[last - 1])
