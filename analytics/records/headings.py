"""Column names as a heading states them, made usable."""

from __future__ import annotations

from collections import Counter

from analytics.errors import FeedError

MOST_COLUMNS = 2_000
"""A line with more fields is no heading; common practice, no source."""


def name_columns(heading: list[str], where: str) -> tuple[str, ...]:
    """Return usable column names: stripped, ``column N`` where a cell is empty.

    Raises
    ------
    FeedError
        If two columns have one name, or there are more than `MOST_COLUMNS`.
    """
    if len(heading) > MOST_COLUMNS:
        raise FeedError(
            f"the heading has {len(heading)} columns",
            where=where,
            next_step=f"export at most {MOST_COLUMNS}; the first line that is not blank must be the heading",
        )
    names = [name.strip() or f"column {number}" for number, name in enumerate(heading, start=1)]
    twice = sorted(name for name, count in Counter(names).items() if count > 1)
    if twice:
        raise FeedError(
            f"{len(twice)} column name(s) stand twice in the heading: {', '.join(twice)}",
            where=where,
            next_step="give every column a name of its own",
        )
    return tuple(names)
