"""Take a feed from standard input, held in memory as if it were a file named ``stdin``."""

from __future__ import annotations

import io
import sys
from dataclasses import replace
from typing import TYPE_CHECKING, BinaryIO

from analytics.errors import FeedError
from analytics.records.archive import OLD_OFFICE
from analytics.records.csv_text import ROW
from analytics.records.feed import FEED
from analytics.records.guesses import plain

if sys.platform == "win32":
    from pathlib import WindowsPath as _Path
else:
    from pathlib import PosixPath as _Path

if TYPE_CHECKING:
    from analytics.records.mapping import Mapping
    from analytics.records.reading import SourceTable
    from analytics.records.table import Table

WHERE = "standard input"
SUFFIXES = ((b"PAR1", ".parquet"), (b"PK\x03\x04", ".xlsx"), (OLD_OFFICE, ".xlsx"))
"""What a file that is no delimited text begins with."""


class StandardInput(_Path):
    """A file that is only in memory: what came through standard input touches no disk before its mapping."""

    content: bytes = b""

    def is_file(self) -> bool:
        """Return that it can be read like a file."""
        return True

    def read_bytes(self) -> bytes:
        """Return what came in."""
        return self.content

    def open(self, *_: object, **__: object) -> io.BytesIO:  # type: ignore[override]  # read as bytes only
        """Return a stream of what came in."""
        return io.BytesIO(self.content)


def read_standard_input(stream: BinaryIO) -> StandardInput:
    """Return what a stream holds, as ``stdin.csv``, ``stdin.xlsx`` or ``stdin.parquet`` by its first bytes.

    Raises
    ------
    FeedError
        If nothing is piped in, or it is empty.
    """
    content = b"" if stream.isatty() else stream.read()
    if not content:
        raise FeedError(
            "nothing came through standard input",
            where=WHERE,
            next_step="pipe a file in, as in `wearledger load - < repairs.csv`, or name the file",
        )
    suffix = next((suffix for begin, suffix in SUFFIXES if content.startswith(begin)), ".csv")
    path = StandardInput(f"stdin{suffix}")
    path.content = content
    return path


def for_standard_input(mapping: Mapping, path: StandardInput) -> Mapping:
    """Return a mapping whose one file, or whose file ``stdin``, is what came in.

    Raises
    ------
    FeedError
        If its blocks name several files and none of them is ``stdin``.
    """
    files = {block.file for block in mapping.blocks}
    own = {name for name in files if name == path.stem or path.match(name)} or files
    if len(own) > 1:
        raise FeedError(
            f"the mapping names {len(own)} files, and one came through standard input",
            where=mapping.where,
            next_step=f'load the folder of the files, or write file = "{path.name}" in the blocks that read it',
        )
    blocks = tuple(replace(block, file=path.name) for block in mapping.blocks if block.file in own)
    return replace(mapping, blocks=blocks)


def named_by_headings(source: SourceTable) -> SourceTable:
    """Return a native table that came without a name under the name its headings fit best; unnamed where two do.

    Notes
    -----
    A table fits if all its required columns are there; the one of which most columns are there is taken.
    """
    if source.from_sheet:
        return source
    headings = {plain(name).replace(" ", "_") for name in source.frame.columns if name != ROW}
    fitting = sorted(((_fit(table, headings), name) for name, table in FEED.items()), reverse=True)
    (best, name), (second, _) = fitting[:2]
    return replace(source, name=name) if best > second else source


def _fit(table: Table, headings: set[str]) -> int:
    needed = {name for name in table.required if table.column(name).default is None}
    return len(headings & {*table.names}) if needed <= headings else 0
