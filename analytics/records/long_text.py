"""Read a long text file part by part: the same rows as at once, in little memory."""

from __future__ import annotations

import codecs
from typing import TYPE_CHECKING

from analytics.records.careful_text import begin
from analytics.records.csv_text import decode, encoding_of, sniff_delimiter, unescaped

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from analytics.records.careful_text import Rows

PART_BYTES = 1 << 23
"""Bytes read at a time."""


def split_long(file: Path, encoding: str, delimiter: str, escape: str, heading_line: int) -> Iterator[Rows]:
    """Split a text file, as `csv_text.split_rows` does, part by part.

    Parameters
    ----------
    file
        Delimited text.
    encoding, delimiter, escape, heading_line
        As for `csv_text.decode` and `csv_text.split_rows`; an empty delimiter is looked for in the heading.

    Yields
    ------
    Rows
        At least once.

    Raises
    ------
    FeedError
        As `csv_text.decode` and `csv_text.split_rows` do.
    """
    splitter, waiting = None, ""
    for text, last in _whole_lines(file, encoding, escape):
        lines = text
        if splitter is None:
            splitter, lines = begin(text, file.name, delimiter or sniff_delimiter(text), heading_line)
        rows, waiting = splitter.split(waiting + lines, last=last)
        yield rows


def _whole_lines(file: Path, encoding: str, escape: str) -> Iterator[tuple[str, bool]]:
    """Give the text in parts of whole lines, and whether it is the last one."""
    before, part, broken = "", "", False
    for text, last in _decoded(file, encoding):
        before += text
        end = len(before) if last else before.rfind("\n") + 1
        part, before = unescaped(before[:end], escape), before[end:]
        broken = broken or "\n" in part
        # a file whose lines end with a carriage return only is one part
        if last and not broken:
            part = part.replace("\r", "\n")
        if part or last:
            yield part, last


def _decoded(file: Path, encoding: str) -> Iterator[tuple[str, bool]]:
    with file.open("rb") as stream:
        content = stream.read(PART_BYTES)
        decoder = codecs.getincrementaldecoder(encoding_of(content, encoding))()
        while True:
            following = stream.read(PART_BYTES)
            try:
                text = decoder.decode(content, final=not following)
            except UnicodeDecodeError:
                text = "\x00"
            if "\x00" in text:
                decode(file.read_bytes(), encoding, file.name)  # says what is wrong, and where
            yield text, not following
            if not following:
                return
            content = following
