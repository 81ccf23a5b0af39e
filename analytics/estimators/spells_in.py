"""Check a frame of spells once and hand every estimator the same arrays and group codes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.errors import SpellError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

MOST_ROWS_NAMED = 5
"""A refusal names at most this many rows; the count says how many there are."""

ROWS_PER_STRETCH = 2**16
"""Temporaries of so many rows at a time stay in the processor's cache."""


@dataclass(frozen=True, slots=True)
class Spells:
    """Checked spells ``(entry, exit]``; all arrays have shape ``(n,)`` and the order of the frame.

    Attributes
    ----------
    entry, exit
        Days or km, both integers or both floats; ``exit > entry`` in every row.
    event
        Number of failures at `exit`; 0 or 1 except for mean cumulative counts.
    group
        Row number in `levels` of the group a spell belongs to.
    levels
        One row per group: the grouping columns, sorted; without grouping one row without columns.
    """

    entry: NDArray[np.int64] | NDArray[np.float64]
    exit: NDArray[np.int64] | NDArray[np.float64]
    event: NDArray[np.int64]
    group: NDArray[np.int64]
    levels: pl.DataFrame

    @property
    def groups(self) -> int:
        """Return the number of groups."""
        return self.levels.height

    def lasting_to(self, start: float) -> Spells:
        """Return the spells that go on beyond `start`, each entered at `start` or later; groups are kept."""
        kept = self.exit > start
        begin = np.asarray(start, dtype=np.result_type(self.entry.dtype, np.asarray(start).dtype))
        entry = np.maximum(self.entry[kept], begin)
        leave = self.exit[kept].astype(entry.dtype, copy=False)
        return Spells(entry, leave, self.event[kept], self.group[kept], self.levels)


def names(by: str | Sequence[str]) -> tuple[str, ...]:
    """Return grouping columns as a tuple; one name may be given as text.

    Examples
    --------
    >>> names("series")
    ('series',)
    """
    return (by,) if isinstance(by, str) else tuple(by)


def spells_in(
    frame: pl.DataFrame,
    by: str | Sequence[str] = (),
    *,
    returned: Sequence[str] = (),
    where: str = "spells",
    most_events: int | None = 1,
) -> Spells:
    """Check spells and give each its group.

    Parameters
    ----------
    frame
        Columns `entry`, `exit` (numbers, days or km) and `event` (whole number or boolean), and those of `by`.
    by
        Grouping columns; a null level is a group of its own.
    returned
        Names the calling estimator returns; none of them may be a grouping column.
    where
        Name of the calling estimator, for the message.
    most_events
        Largest `event` allowed in a row; None for any count.

    Returns
    -------
    Spells
        Arrays in the order of `frame`.

    Raises
    ------
    SpellError
        If a column is missing or not a number, a value is null or not finite, ``exit <= entry``, an event is
        outside 0 to `most_events`, or a grouping column has the name of a returned one.

    Examples
    --------
    >>> spells_in(pl.DataFrame({"entry": [0, 2], "exit": [5, 6], "event": [1, 0]})).exit.tolist()
    [5, 6]
    """
    by = names(by)
    _refuse_names(frame, by, returned, where)
    entry, leave = times(frame, "entry", "exit", where=where)
    event = _whole(frame, "event", where)
    refuse_rows(
        leave <= entry, "exit is not after entry", where, "give every spell exit > entry", entry=entry, exit=leave
    )
    wrong = (event < 0) if most_events is None else (event < 0) | (event > most_events)
    allowed = "0 or more" if most_events is None else f"0 to {most_events}"
    refuse_rows(wrong, f"event is not {allowed}", where, "count the failures at exit of each spell", event=event)
    levels, group = group_codes(frame, by)
    return Spells(entry, leave, event, group, levels)


def group_codes(frame: pl.DataFrame, by: Sequence[str]) -> tuple[pl.DataFrame, NDArray[np.int64]]:
    """Return the sorted levels, one row each, and for every spell the row number of its level."""
    if not by:
        return pl.DataFrame(height=1), np.zeros(frame.height, dtype=np.int64)
    wanted = frame.select(by)
    if len(by) == 1 and (numbered := _numbered(wanted.to_series())):
        return numbered
    levels = wanted.unique().sort(by)
    code = "".join(by) + "_code"
    coded = wanted.join(levels.with_row_index(code), on=list(by), how="left", nulls_equal=True, maintain_order="left")
    return levels, coded[code].cast(pl.Int64).to_numpy()


def _numbered(levels: pl.Series) -> tuple[pl.DataFrame, NDArray[np.int64]] | None:
    """Return the same for whole numbers that lie close, where a table needs no sorting; None for others."""
    if not levels.dtype.is_signed_integer() or levels.null_count() or levels.is_empty():
        return None
    values = levels.cast(pl.Int64).to_numpy()
    least, most = int(values.min()), int(values.max())
    if most - least > values.size:
        return None
    seen = np.zeros(most - least + 1, dtype=np.bool_)
    stretches = [slice(begin, begin + ROWS_PER_STRETCH) for begin in range(0, values.size, ROWS_PER_STRETCH)]
    for rows in stretches:
        seen[values[rows] - least] = True
    distinct = pl.Series(levels.name, np.flatnonzero(seen) + least, dtype=pl.Int64).cast(levels.dtype)
    if least == 0 and seen.all():
        return distinct.to_frame(), values
    number, code = np.cumsum(seen) - 1, np.empty_like(values)
    for rows in stretches:
        number.take(values[rows] - least, out=code[rows], mode="clip")
    return distinct.to_frame(), code


def times(frame: pl.DataFrame, *columns: str, where: str) -> tuple[NDArray[np.int64] | NDArray[np.float64], ...]:
    """Return columns of days or km as arrays of one type: integers where all are, so that ties stay ties."""
    refuse_missing(frame, columns, where)
    for column in columns:
        kind = frame.schema[column]
        if not (kind.is_numeric() or kind == pl.Null):
            raise SpellError(
                f"column {column!r} holds {kind}, not numbers",
                where=where,
                next_step="give days or km as numbers",
            )
    refuse_null(frame, columns, where)
    whole = all(frame.schema[column].is_integer() or frame.schema[column] == pl.Null for column in columns)
    arrays = tuple(frame[column].cast(pl.Int64 if whole else pl.Float64).to_numpy() for column in columns)
    for column, values in zip(columns, arrays, strict=True):
        refuse_rows(~np.isfinite(values), f"{column} is not finite", where, "give days or km", value=values)
    return arrays


def refuse_rows(
    wrong: NDArray[np.bool_], says: str, where: str, next_step: str, **seen: NDArray[np.int64] | NDArray[np.float64]
) -> None:
    """Raise if any row is wrong, with the numbers of the first ones (counted from 1) and what they hold."""
    rows = np.flatnonzero(wrong)
    if rows.size == 0:
        return
    named = "; ".join(
        f"row {row + 1}" + "".join(f", {name} {values[row]}" for name, values in seen.items())
        for row in rows[:MOST_ROWS_NAMED].tolist()
    )
    raise SpellError(f"{says} in {rows.size} of {wrong.size} rows: {named}", where=where, next_step=next_step)


def _whole(frame: pl.DataFrame, column: str, where: str) -> NDArray[np.int64]:
    refuse_missing(frame, (column,), where)
    refuse_null(frame, (column,), where)
    kind = frame.schema[column]
    if not (kind.is_numeric() or kind in (pl.Boolean, pl.Null)):
        raise SpellError(f"column {column!r} holds {kind}, not numbers", where=where, next_step="give 0, 1 or a count")
    if kind.is_signed_integer():
        return frame[column].cast(pl.Int64).to_numpy()
    values = frame[column].cast(pl.Float64).to_numpy()
    with np.errstate(invalid="ignore"):
        broken = ~np.isfinite(values) | (values != np.floor(values))
    refuse_rows(broken, f"{column} is not a whole number", where, "give 0, 1 or a count", value=values)
    return values.astype(np.int64)


def refuse_missing(frame: pl.DataFrame, columns: Sequence[str], where: str) -> None:
    """Raise if a column is not there, and say which are."""
    missing = [column for column in columns if column not in frame.columns]
    if missing:
        raise SpellError(
            f"no column {', '.join(missing)} among {', '.join(frame.columns) or 'none'}",
            where=where,
            next_step="name the columns as the estimator expects them",
        )


def refuse_null(frame: pl.DataFrame, columns: Sequence[str], where: str) -> None:
    """Raise if a column has nulls, with the numbers of the first such rows."""
    for column in columns:
        if not frame[column].null_count():
            continue
        empty = frame[column].is_null().to_numpy()
        refuse_rows(empty, f"{column} is null", where, "leave the row out or give its value")


def _refuse_names(frame: pl.DataFrame, by: tuple[str, ...], returned: Sequence[str], where: str) -> None:
    refuse_missing(frame, by, where)
    taken = [column for column in by if column in returned]
    if taken:
        raise SpellError(
            "; ".join(f"grouping column {column!r} has the name of the returned column {column!r}" for column in taken),
            where=where,
            next_step="rename the grouping column",
        )
    if len(set(by)) < len(by):
        raise SpellError(
            f"a grouping column is named twice: {', '.join(by)}", where=where, next_step="name each column once"
        )
