"""Guess where the headings of an export stand and which of its columns are numbered, for a proposal."""

from __future__ import annotations

import re
from collections import Counter
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence

LINES_LOOKED_AT = 15
"""Titles above the headings end somewhere before."""

SHARE_FILLED = 0.6
"""Of the fullest line's cells, as many as a line of headings has."""

FIGURE = r"^[\d.,:/+-][\d\s.,:/+-]*$"
"""A number, a day or a time: no heading is one."""

NUMBERED = r"^(?P<before>.*[A-Za-z][^\d]*)(?P<n>\d{1,2})(?P<after>\D*)$"
SEVERAL = 2


def heading_line(lines: Iterable[Sequence[str]], known: Callable[[list[str]], int]) -> int:
    """Return the line of the headings, counted from 1.

    Parameters
    ----------
    lines
        The first lines of a file, each as its cells.
    known
        Counts the cells of a line that are known headings.

    Returns
    -------
    int
        The line with the most known headings, if there are several; else the first that is nearly full, of different
        words.

    Examples
    --------
    >>> lines = [["Jobs of March", "", ""], ["", "", ""], ["Job", "Car", "Date"], ["17", "C-1", "2020-03-04"]]
    >>> heading_line(lines, lambda cells: 0)
    3
    """
    filled = [[cell.strip() for cell in line if cell.strip()] for line in lines][:LINES_LOOKED_AT]
    fullest = max((len(cells) for cells in filled), default=0)
    counts = [known(cells) for cells in filled]
    if max(counts, default=0) >= SEVERAL:
        return counts.index(max(counts)) + 1
    for place, cells in enumerate(filled, start=1):
        enough = len(cells) >= max(SHARE_FILLED * fullest, min(fullest, SEVERAL))
        if enough and len({*cells}) == len(cells) and not any(re.match(FIGURE, cell) for cell in cells):
            return place
    return 1


def numbered_columns(headings: Sequence[str]) -> tuple[dict[str, str], tuple[int, ...]]:
    """Return what headings that differ by a number only have in common, and those numbers.

    Parameters
    ----------
    headings
        Headings of one table.

    Returns
    -------
    tuple of dict and tuple
        The words around the number to the heading with ``{n}`` in its place; the numbers, the same for all of them.

    Examples
    --------
    >>> numbered_columns(["Job", "Part 1", "Qty 1", "Part 2", "Qty 2", "Line 4"])
    ({'Part': 'Part {n}', 'Qty': 'Qty {n}'}, (1, 2))
    """
    numbers: dict[tuple[str, str], list[int]] = {}
    for heading in headings:
        found = re.match(NUMBERED, heading)
        # a number with a zero before it could not be written back
        if found and found["n"] == str(int(found["n"])):
            numbers.setdefault((found["before"], found["after"]), []).append(int(found["n"]))
    several = Counter(tuple(sorted(each)) for each in numbers.values() if len(each) >= SEVERAL)
    if not several:
        return {}, ()
    usual = max(several, key=lambda each: (several[each], len(each)))
    alike = [around for around, each in numbers.items() if tuple(sorted(each)) == usual]
    words = {f"{before}{after}".strip(" _-.#"): f"{before}{{n}}{after}" for before, after in alike}
    return {word: pattern for word, pattern in words.items() if word not in headings}, usual
