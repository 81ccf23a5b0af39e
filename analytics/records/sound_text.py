"""Split text without any quote whose lines all have the same number of fields: the same rows, many times as fast."""

from __future__ import annotations

import numpy as np
import polars as pl

BLOCK = 1 << 24
"""Bytes split at a time."""

BYTE_ORDER_MARK = b"\xef\xbb\xbf"
"""Is skipped by the reader at the beginning of a block, and kept by the careful way."""


def split_sound(text: str, heading: tuple[str, ...], delimiter: str) -> pl.DataFrame | None:
    r"""Return the fields of every line, if no line needs a second look.

    Parameters
    ----------
    text
        The lines below the heading.
    heading
        Column names.
    delimiter
        One sign between fields.

    Returns
    -------
    DataFrame or None
        One String column per name, fields without blanks around them, empty ones null; None where a quote, a blank
        line or a line with another number of fields asks for the careful way.

    Examples
    --------
    >>> split_sound("7,slow\n8, \n", ("bus_id", "note"), ",").rows()
    [('7', 'slow'), ('8', None)]
    >>> split_sound("7,slow\n8\n", ("bus_id", "note"), ",") is None
    True
    """
    if len(heading) == 1 or '"' in text or not text:
        return None
    content = text.encode()
    if not content.endswith(b"\n"):
        content += b"\n"
    parts = []
    begin = 0
    while begin < len(content):
        end = content.rfind(b"\n", begin, begin + BLOCK) + 1 or content.index(b"\n", begin) + 1
        block = content[begin:end]
        if block.startswith(BYTE_ORDER_MARK) or not _even(block, delimiter, len(heading)):
            return None
        parts.append(_fields(block, heading, delimiter))
        begin = end
    return pl.concat(parts)


def _even(block: bytes, delimiter: str, width: int) -> bool:
    """Return whether every line has `width` fields."""
    signs = np.frombuffer(block, dtype=np.uint8)
    ends = np.flatnonzero(signs == ord("\n"))
    marks = np.flatnonzero(signs == ord(delimiter))
    if len(marks) != len(ends) * (width - 1):
        return False
    by_line = marks.reshape(len(ends), width - 1)
    return bool((by_line[:, -1] < ends).all() and (by_line[1:, 0] > ends[:-1]).all())


def _fields(block: bytes, heading: tuple[str, ...], delimiter: str) -> pl.DataFrame:
    rows = pl.read_csv(
        block, has_header=False, separator=delimiter, quote_char=None, schema=dict.fromkeys(heading, pl.String)
    )
    texts = rows.select(pl.col(name).str.strip_chars() for name in heading)
    return texts.select(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in heading)
