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
        if block.startswith(BYTE_ORDER_MARK) or (ends := _even(block, delimiter, len(heading))) is None:
            return None
        parts.append(_fields(block, heading, delimiter, bare=_bare(block, ends)))
        begin = end
    return pl.concat(parts)


def _even(block: bytes, delimiter: str, width: int) -> np.ndarray | None:
    """Return the places where fields end, if every line has `width` fields."""
    signs = np.frombuffer(block, dtype=np.uint8)
    ends = np.flatnonzero(signs == ord("\n"))
    marks = np.flatnonzero(signs == ord(delimiter))
    if len(marks) != len(ends) * (width - 1):
        return None
    by_line = marks.reshape(len(ends), width - 1)
    if not (by_line[:, -1] < ends).all() or not (by_line[1:, 0] > ends[:-1]).all():
        return None
    return np.concatenate([marks, ends])


def _bare(block: bytes, ends: np.ndarray) -> bool:
    """Return whether surely no field begins or ends with a blank of any kind."""
    signs = np.frombuffer(block, dtype=np.uint8)
    # a delimiter or the end of a line beside another: the field is empty
    visible = np.zeros(256, dtype=np.bool_)
    visible[0x21:0x7F] = True
    visible[[signs[ends[0]], ord("\n")]] = True
    return bool(
        visible[signs[0]] and visible[signs[ends - 1]].all() and visible[signs[ends[ends + 1 < len(signs)] + 1]].all()
    )


def _fields(block: bytes, heading: tuple[str, ...], delimiter: str, *, bare: bool) -> pl.DataFrame:
    rows = pl.read_csv(
        block, has_header=False, separator=delimiter, quote_char=None, schema=dict.fromkeys(heading, pl.String)
    )
    if bare:
        return rows
    texts = rows.select(pl.col(name).str.strip_chars() for name in heading)
    return texts.select(pl.when(pl.col(name) != "").then(pl.col(name)).alias(name) for name in heading)
