"""Read spells for the life laws: what `spells_in` checks, and the columns about ages not known and silent faults."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.spells_in import refuse_rows, spells_in

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LARGEST_LOG = 700.0
"""Logs beyond this are outside the floating-point numbers."""


@dataclass(frozen=True, slots=True)
class LifeSpells:
    """Spells sorted by group; times are shares of `yardstick`, the group's longest exit.

    Attributes
    ----------
    entry, exit
        Shape ``(n,)``; of the unit where its age is known, else since it was first seen.
    lower
        Shape ``(n,)``: last time a silently failed unit was seen good; equal to `exit` everywhere else.
    failed
        Shape ``(n,)``.
    joined
        Shape ``(n,)``, age of the car when the unit was first seen; +inf where not known. Of use only where
        `age_known` is false.
    age_known
        Shape ``(n,)``.
    group
        Shape ``(n,)``, row of `levels`, not falling.
    levels
        Grouping columns, a row per group.
    yardstick
        Shape ``(groups,)``, days or km.
    """

    entry: Floats
    exit: Floats
    lower: Floats
    failed: Flags
    joined: Floats
    age_known: Flags
    group: NDArray[np.int64]
    levels: pl.DataFrame
    yardstick: Floats

    @property
    def groups(self) -> int:
        """Return the number of groups."""
        return self.levels.height

    @property
    def found(self) -> Flags:
        """Return which spells end in a failure known to an interval only."""
        return self.failed & (self.lower < self.exit)

    @property
    def exact(self) -> Flags:
        """Return which spells end in a failure whose time is known."""
        return self.failed & (self.lower >= self.exit)

    def count(self, rows: Flags | None = None) -> NDArray[np.int64]:
        """Return the number of spells per group, of those in `rows` if given."""
        group = self.group if rows is None else self.group[rows]
        return np.bincount(group, minlength=self.groups).astype(np.int64)

    def times(self, log_share: Floats) -> Floats:
        """Return days or km from logs of shares of the yardstick; NaN where that is no ordinary number."""
        log_time = np.log(self.yardstick) + log_share
        return np.exp(np.where(np.abs(log_time) < LARGEST_LOG, log_time, np.nan))

    def where(self, rows: Flags) -> LifeSpells:
        """Return some of the spells; groups and yardsticks stay."""
        return LifeSpells(
            self.entry[rows],
            self.exit[rows],
            self.lower[rows],
            self.failed[rows],
            self.joined[rows],
            self.age_known[rows],
            self.group[rows],
            self.levels,
            self.yardstick,
        )

    def of_groups(self, groups: NDArray[np.int64]) -> LifeSpells:
        """Return the spells of some groups, by row number in rising order; the groups are numbered anew."""
        number = np.full(self.groups, -1)
        number[groups] = np.arange(groups.size)
        kept = self.where(number[self.group] >= 0)
        return replace(kept, group=number[kept.group], levels=self.levels[groups], yardstick=self.yardstick[groups])


def life_spells(frame: pl.DataFrame, by: str | Sequence[str], *, returned: Sequence[str], where: str) -> LifeSpells:
    """Check spells and return them as shares of each group's longest exit.

    Parameters
    ----------
    frame
        Columns `entry`, `exit`, `event` and those of `by`; if present also `exit_lower` (null = exact),
        `age_known` (default true) and `vehicle_age` (of the car at entry; null = not known).
    by
        Grouping columns.
    returned
        Names the calling estimator returns.
    where
        Name of the calling estimator, for messages.

    Raises
    ------
    SpellError
        As `spells_in`; or if an entry is below 0, or an `exit_lower` lies outside ``[entry, exit]``.
    """
    checked = spells_in(frame, by, returned=returned, where=where)
    entry, leave = checked.entry.astype(np.float64), checked.exit.astype(np.float64)
    refuse_rows(entry < 0, "entry is below 0", where, "give entry and exit on the unit's own clock", entry=entry)
    lower = np.where(checked.event == 1, _optional(frame, "exit_lower", leave), leave)
    outside = (lower < entry) | (lower > leave)
    refuse_rows(
        outside, "exit_lower is not within entry and exit", where, "give entry <= exit_lower < exit", lower=lower
    )
    known = frame["age_known"].fill_null(value=True).to_numpy() if "age_known" in frame.columns else entry >= 0
    car = _optional(frame, "vehicle_age", np.full(entry.size, np.inf))
    # 16-bit numbers are sorted by counting
    narrow = checked.group.astype(np.uint16) if checked.groups <= 2**16 else checked.group
    order = np.argsort(narrow, kind="stable")
    group = checked.group[order]
    yardstick = np.zeros(checked.groups)
    np.maximum.at(yardstick, checked.group, leave)
    yardstick = np.where(yardstick > 0, yardstick, 1.0)
    unit = yardstick[group]
    joined = np.maximum(car - entry, 0.0)
    return LifeSpells(
        entry[order] / unit,
        leave[order] / unit,
        lower[order] / unit,
        checked.event[order] == 1,
        joined[order] / unit,
        np.asarray(known, dtype=np.bool_)[order],
        group,
        checked.levels,
        yardstick,
    )


def _optional(frame: pl.DataFrame, column: str, otherwise: Floats) -> Floats:
    """Return a column as floats, `otherwise` where it is null or not there."""
    if column not in frame.columns:
        return otherwise
    values = frame[column].cast(pl.Float64).to_numpy()
    return np.where(np.isfinite(values), values, otherwise)
