"""Read the files of a feed: CSV, XLSX and Parquet, one file or a folder of them, everything as text."""

from __future__ import annotations

import hashlib
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import FeedError
from analytics.records.careful_text import ROW
from analytics.records.csv_text import decode, sniff_delimiter, split_rows
from analytics.records.long_text import PART_BYTES, split_long
from analytics.records.workbook import NO_BROKEN, read_parquet, read_sheets

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

TEXT_FILES = (".csv", ".tsv")
WORKBOOKS = (".xlsx", ".xlsm")
PARQUET = (".parquet",)
READABLE = (*TEXT_FILES, *WORKBOOKS, *PARQUET)


@dataclass(frozen=True, slots=True)
class ReadOptions:
    """How a file is written, where it does not say so itself.

    Attributes
    ----------
    encoding
        Empty = UTF-8, or what a byte order mark says.
    delimiter
        Empty = the most frequent of comma, semicolon and tab in the heading.
    escape
        Character before a quote inside a quoted text, empty = such quotes are doubled.
    heading_line
        1-based line of the column names.
    """

    encoding: str = ""
    delimiter: str = ""
    escape: str = ""
    heading_line: int = 1


@dataclass(frozen=True, slots=True)
class SourceTable:
    """One table as it stands in a file.

    Attributes
    ----------
    file
        File name as shown to people; for a sheet ``book.xlsx, sheet jobs``.
    name
        The file's stem or the sheet's name.
    frame
        String columns by their own names, plus `ROW` (1-based data row); rows without any value are left out.
    broken
        `ROW`, ``says`` and ``text`` of rows that cannot be split with certainty.
    blank
        Rows without any value.
    from_sheet
        Whether bare numbers may be a workbook's serial dates.
    """

    file: str
    name: str
    frame: pl.DataFrame
    broken: pl.DataFrame
    blank: int
    from_sheet: bool = False


@dataclass(frozen=True, slots=True)
class Source:
    """One table of a file, to be read part by part.

    Attributes
    ----------
    first
        Its first part: names and columns are those of all parts.
    parts
        Gives all parts in order, anew each time it is called; blank rows and broken ones are told part by part.
    whole
        Whether the first part is all.
    """

    first: SourceTable
    parts: Callable[[], Iterator[SourceTable]]
    whole: bool

    @staticmethod
    def of(table: SourceTable) -> Source:
        """Return a table that is there as a whole."""
        return Source(table, lambda: iter([table]), whole=True)

    def renamed(self, first: SourceTable, names: dict[str, str]) -> Source:
        """Return the source with other column names; `first` is its first part with these."""
        if self.whole:
            return Source.of(first)
        return Source(
            first, lambda: (replace(part, frame=part.frame.rename(names)) for part in self.parts()), whole=False
        )


def list_files(path: Path) -> list[Path]:
    """Return the files of a feed, sorted by name: the file itself, or the visible files in the folder.

    Raises
    ------
    FeedError
        If there is no such file or folder, or the folder is empty.
    """
    if path.is_file():
        return [path]
    if path.exists() and not path.is_dir():
        raise FeedError(
            f"{path} is neither a file of records nor a folder of them",
            where=str(path),
            next_step="name a CSV, XLSX or Parquet file or a folder of such files, or - to read standard input",
        )
    if not path.is_dir():
        raise FeedError(
            f"there is no file or folder {path.name}", where=str(path), next_step="check the spelling of the path"
        )
    files = sorted(file for file in path.iterdir() if file.is_file() and not file.name.startswith((".", "~$")))
    if not files:
        raise FeedError(
            "the folder holds no files",
            where=str(path),
            next_step="put the CSV, XLSX or Parquet files of the feed there",
        )
    return [inside(file, path) for file in files]


def match_files(path: Path, pattern: str) -> list[Path]:
    """Return the files of the feed at `path` that a mapping's `file` names, sorted by name.

    Raises
    ------
    FeedError
        If none does, or a file lies outside the folder.
    """
    if path.is_file():
        return [path] if path.match(pattern) else []
    files = sorted(file for file in path.glob(pattern) if file.is_file() and not file.name.startswith((".", "~$")))
    return [inside(file, path) for file in files]


def inside(file: Path, folder: Path) -> Path:
    """Return `file` if it lies in `folder`.

    Raises
    ------
    FeedError
        If it is a link that leads out of the folder.
    """
    if not file.resolve().is_relative_to(folder.resolve()):
        raise FeedError(
            f"{file.name} is a link that leads out of the feed's folder",
            where=str(folder),
            next_step="copy the file itself into the folder",
        )
    return file


def sha256_of(file: Path) -> str:
    """Return the SHA-256 of a file's bytes, as hexadecimal digits."""
    with file.open("rb") as stream:
        return hashlib.file_digest(stream, "sha256").hexdigest()


def read_files(files: list[Path], options: ReadOptions | None = None) -> list[SourceTable]:
    """Read every table in the files: one per CSV or Parquet file, one per sheet of a workbook.

    Parameters
    ----------
    files
        Files to read; a suffix that is neither a workbook's nor Parquet's is read as delimited text.
    options
        How delimited text is written; None = UTF-8, delimiter by the heading.

    Returns
    -------
    list of SourceTable
        In order of the files and of the sheets; sheets without any value are left out.

    Raises
    ------
    FeedError
        If a file is empty, is no table, or cannot be decoded; nothing is half-read.
    """
    return [table for file in files for table in _read(file, options or ReadOptions())]


def open_files(files: list[Path], options: ReadOptions | None = None) -> list[Source]:
    """Return every table in the files like `read_files`; long delimited text is read part by part.

    Parameters
    ----------
    files, options
        As for `read_files`.
    """
    stated = options or ReadOptions()
    return [source for file in files for source in _open(file, stated)]


def _open(file: Path, options: ReadOptions) -> list[Source]:
    if file.suffix.lower() in (*WORKBOOKS, *PARQUET) or not _is_long(file):
        return [Source.of(table) for table in _read(file, options)]
    nameless = _nameless(file, options)

    def parts() -> Iterator[SourceTable]:
        for table in _parts(file, options):
            yield replace(table, frame=table.frame.drop(nameless))

    return [Source(next(parts()), parts, whole=False)]


def _is_long(file: Path) -> bool:
    with file.open("rb") as stream:
        return stream.seek(0, 2) > PART_BYTES


def _parts(file: Path, options: ReadOptions) -> Iterator[SourceTable]:
    stated = (options.encoding, options.delimiter, options.escape, options.heading_line)
    for rows in split_long(file, *stated):
        held = _held(rows.good)
        yield SourceTable(file.name, file.stem, held, rows.broken, rows.good.height - held.height)


def _nameless(file: Path, options: ReadOptions) -> list[str]:
    """Return the columns without a name that hold nothing in the whole file."""
    empty = _without_name(next(_parts(file, options)).frame)
    for part in _parts(file, options) if empty else ():
        empty = [name for name in empty if not part.frame[name].count()]
    return empty


def _without_name(frame: pl.DataFrame) -> list[str]:
    return [column for column in frame.columns if column.startswith("column ")]


def _held(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the rows that hold any value."""
    values = [name for name in rows.columns if name != ROW]
    if any(not rows[name].null_count() for name in values):
        return rows
    return rows.filter(pl.any_horizontal(pl.col(values).is_not_null()))


def _read(file: Path, options: ReadOptions) -> list[SourceTable]:
    content = file.read_bytes()
    if not content:
        raise FeedError("the file is empty", where=file.name, next_step="export it again, with a heading line")
    suffix = file.suffix.lower()
    if suffix in WORKBOOKS:
        return [
            _table(f"{file.name}, sheet {name}", name, rows, NO_BROKEN, from_sheet=True)
            for name, rows in read_sheets(content, file.name, options.heading_line)
        ]
    if suffix in PARQUET:
        return [_table(file.name, file.stem, read_parquet(content, file.name), NO_BROKEN)]
    text = decode(content, options.encoding, file.name)
    rows = split_rows(
        text,
        file.name,
        delimiter=options.delimiter or sniff_delimiter(text),
        escape=options.escape,
        heading_line=options.heading_line,
    )
    return [_table(file.name, file.stem, rows.good, rows.broken)]


def _table(file: str, name: str, rows: pl.DataFrame, broken: pl.DataFrame, *, from_sheet: bool = False) -> SourceTable:
    held = _held(rows)
    nameless = [column for column in _without_name(rows) if not held[column].count()]
    return SourceTable(file, name, held.drop(nameless), broken, rows.height - held.height, from_sheet)
