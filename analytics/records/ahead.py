"""Prepare the next piece of work while one is being done."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

Item = TypeVar("Item")


def ahead(items: Iterable[Item]) -> Iterator[Item]:
    """Give items in order, each prepared in a thread of its own while the one before is worked on.

    Parameters
    ----------
    items
        What prepares them; it must not touch what the caller uses meanwhile, such as a connection.

    Raises
    ------
    Exception
        Whatever preparing an item raises, where that item would be given.

    Examples
    --------
    >>> list(ahead(n * n for n in range(4)))
    [0, 1, 4, 9]
    """
    iterator = iter(items)
    with ThreadPoolExecutor(max_workers=1) as pool:
        following = pool.submit(lambda: list(_first(iterator)))
        while prepared := following.result():
            following = pool.submit(lambda: list(_first(iterator)))
            yield prepared[0]


def _first(iterator: Iterator[Item]) -> Iterator[Item]:
    """Give the next item alone, if there is one."""
    for item in iterator:
        yield item
        return
