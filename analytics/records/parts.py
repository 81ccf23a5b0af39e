"""Tables of a feed part by part, so that a feed of any size needs little memory."""

from __future__ import annotations

import tempfile
import threading
import weakref
from collections.abc import Iterable, Iterator, Mapping, MutableMapping
from io import BytesIO
from typing import TYPE_CHECKING, Protocol

import polars as pl
from polars.io.plugins import register_io_source

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

IN_MEMORY = 32_000_000
"""Bytes of one table that are kept in memory; what comes after lies in a file without a name."""

ROWS_READ = 65_536
"""Rows read at a time from a file of ours."""


class Rows(Protocol):
    """Rows of one table, to be read as often as needed."""

    @property
    def height(self) -> int:
        """Number of rows."""

    @property
    def columns(self) -> list[str]:
        """Column names in order."""

    def __iter__(self) -> Iterator[pl.DataFrame]:
        """Give the rows in order, part by part, each with all columns."""

    def only(self, names: Iterable[str]) -> Iterator[pl.DataFrame]:
        """Give these columns of the rows, those that are there."""

    def empty(self) -> pl.DataFrame:
        """Return no rows, with all columns."""


class _File:
    """A file that has no name, and is gone with this object or the process, however that ends.

    Several threads may read it at once.
    """

    def __init__(self) -> None:
        self.stream = tempfile.TemporaryFile()  # noqa: SIM115 - closed with this object
        self._in_turn = threading.Lock()
        weakref.finalize(self, self.stream.close)

    def write(self, part: pl.DataFrame) -> tuple[int, int]:
        """Write rows behind the others, and return where they begin and how many bytes they take."""
        text = BytesIO()
        part.write_ipc(text, compression="lz4")
        with self._in_turn:
            begin = self.stream.seek(0, 2)
            self.stream.write(text.getbuffer())
        return begin, text.tell()

    def read(self, begin: int, length: int, names: list[str]) -> pl.DataFrame:
        """Read these columns of rows, those that are there."""
        with self._in_turn:
            self.stream.seek(begin)
            text = BytesIO(self.stream.read(length))
        there = pl.read_ipc_schema(text)
        text.seek(0)
        return pl.read_ipc(text, columns=[name for name in there if name in names])


class Parts:
    """Rows collected part by part; a column that only some parts have is null in the others.

    Parameters
    ----------
    parts
        The first parts.

    Examples
    --------
    >>> rows = Parts([pl.DataFrame({"a": ["1"]}), pl.DataFrame({"b": ["2"]})])
    >>> rows.height, [part.rows() for part in rows]
    (2, [[('1', None)], [(None, '2')]])
    """

    def __init__(self, parts: Iterable[pl.DataFrame] = ()) -> None:
        self._frames: list[pl.DataFrame] = []
        self._schema: dict[str, pl.DataType] = {}
        self._file: _File | None = None
        self._places: list[tuple[int, int]] = []
        self._bytes = 0
        self.height = 0
        for part in parts:
            self.append(part)

    @property
    def columns(self) -> list[str]:
        """Column names in order."""
        return [*self._schema]

    def append(self, part: pl.DataFrame) -> None:
        """Add rows behind the others."""
        self._schema |= {name: dtype for name, dtype in part.schema.items() if name not in self._schema}
        self.height += part.height
        if not part.height:
            return
        self._bytes += int(part.estimated_size())
        if self._bytes <= IN_MEMORY:
            self._frames.append(part)
        else:
            self._file = self._file or _File()
            self._places.append(self._file.write(part))

    def extend(self, other: Parts) -> None:
        """Add the rows of another collection behind the others; that one is not to be used any more."""
        if not self.height and not self._schema:
            self.__dict__.update(other.__dict__)
            return
        self._schema |= {name: dtype for name, dtype in other._schema.items() if name not in self._schema}
        for part in other:
            self.append(part)

    def in_order(self, names: Iterable[str]) -> Parts:
        """Have the columns given in this order, those of `names` that are there; return itself."""
        self._schema = {name: self._schema[name] for name in names if name in self._schema}
        return self

    def __iter__(self) -> Iterator[pl.DataFrame]:
        """Give the rows in order, part by part, each with all columns."""
        return self.only(self._schema)

    def only(self, names: Iterable[str]) -> Iterator[pl.DataFrame]:
        """Give these columns of the rows, those that are there."""
        asked = [name for name in names if name in self._schema]
        for frame in self._frames:
            yield self._with(frame, asked)
        if self._file is not None:
            for begin, length in self._places:
                yield self._with(self._file.read(begin, length, asked), asked)

    def _with(self, part: pl.DataFrame, asked: list[str]) -> pl.DataFrame:
        if part.columns == asked:
            return part
        return part.select(
            pl.col(name) if name in part.columns else pl.lit(None, dtype=self._schema[name]).alias(name)
            for name in asked
        )

    def empty(self) -> pl.DataFrame:
        """Return no rows, with all columns."""
        return pl.DataFrame(schema=self._schema)


class ParquetRows:
    """Rows of a Parquet file that this program wrote.

    Parameters
    ----------
    path
        The file.
    """

    def __init__(self, path: Path) -> None:
        self._path = path
        self._schema = pl.read_parquet_schema(path)
        self.columns = [*self._schema]
        self.height = int(pl.scan_parquet(path).select(pl.len()).collect().item())

    def __iter__(self) -> Iterator[pl.DataFrame]:
        """Give the rows in order, part by part."""
        return self.only(self.columns)

    def only(self, names: Iterable[str]) -> Iterator[pl.DataFrame]:
        """Give these columns of the rows, those that are there."""
        asked = [name for name in names if name in self.columns]
        for begin in range(0, self.height, ROWS_READ):
            yield pl.scan_parquet(self._path).select(asked).slice(begin, ROWS_READ).collect()

    def empty(self) -> pl.DataFrame:
        """Return no rows, with all columns."""
        return pl.DataFrame(schema=self._schema)


def write_parquet(rows: Rows, path: Path) -> None:
    """Write rows to a Parquet file, part by part."""
    parts = iter(rows)
    first = next(parts, None)
    if first is None or first.height == rows.height:
        (rows.empty() if first is None else first).write_parquet(path)
        return

    def again(names: list[str] | None, *_: object) -> Iterator[pl.DataFrame]:
        yield from rows if names is None else rows.only(names)

    register_io_source(again, schema=first.schema).sink_parquet(
        path, maintain_order=True, engine="streaming", row_group_size=ROWS_READ, statistics=False
    )


class Tables(MutableMapping[str, pl.DataFrame]):
    """Tables of a feed by name: each as one frame, or its rows part by part.

    Parameters
    ----------
    rows
        The rows of each table.

    Examples
    --------
    >>> tables = Tables({"vehicles": Parts([pl.DataFrame({"vehicle_id": ["a"]})])})
    >>> tables["vehicles"].height, tables.rows("vehicles").columns
    (1, ['vehicle_id'])
    """

    def __init__(self, rows: Mapping[str, Rows]) -> None:
        self._rows: dict[str, Rows] = dict(rows)

    def rows(self, name: str) -> Rows:
        """Return the rows of a table."""
        return self._rows[name]

    def __getitem__(self, name: str) -> pl.DataFrame:
        """Return a table as one frame."""
        rows = self._rows[name]
        parts = [*rows]
        whole: pl.DataFrame = parts[0] if len(parts) == 1 else pl.concat([rows.empty(), *parts])
        return whole

    def __setitem__(self, name: str, frame: pl.DataFrame) -> None:
        """Put a frame in the place of a table."""
        self._rows[name] = Parts([frame])

    def __delitem__(self, name: str) -> None:
        """Take a table out."""
        del self._rows[name]

    def __contains__(self, name: object) -> bool:
        """Return whether there is a table of that name; nothing is read for it."""
        return name in self._rows

    def __iter__(self) -> Iterator[str]:
        """Give the names in order."""
        return iter(self._rows)

    def __len__(self) -> int:
        """Return the number of tables."""
        return len(self._rows)


def rows_of(tables: Mapping[str, pl.DataFrame], name: str) -> Rows:
    """Return the rows of a table, of a plain dictionary of frames too."""
    return tables.rows(name) if isinstance(tables, Tables) else Parts([tables[name]])


def changed(rows: Rows, change: Callable[[pl.DataFrame], pl.DataFrame]) -> Parts:
    """Return rows of which every part was changed."""
    parts = Parts([change(rows.empty())])
    for part in rows:
        parts.append(change(part))
    return parts
