"""Windows of components and events at positions as arrays, by number."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.marks import NO_DAY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Days = NDArray[np.int32]
    Numbers = NDArray[np.int64]
    Flags = NDArray[np.bool_]


def days_of(column: pl.Series) -> Days:
    """Return days since 1970-01-01, `NO_DAY` where there is none."""
    days: Days = column.cast(pl.Int32).fill_null(NO_DAY).to_numpy()
    return days


def numbers_of(column: pl.Series) -> Numbers:
    """Return numbers, 0 where there is none."""
    numbers: Numbers = column.cast(pl.Int64).fill_null(0).to_numpy()
    return numbers


def flags_of(column: pl.Series) -> Flags:
    """Return flags, false where nothing is told."""
    flags: Flags = column.fill_null(value=False).to_numpy()
    return flags


@dataclass(frozen=True, slots=True)
class Windows:
    """Components of cars and when each is watched; arrays of shape ``(windows,)``, row i holds window_no i + 1.

    Attributes
    ----------
    built_on, joined_on
        Days since 1970-01-01, `NO_DAY` where not known.
    since_new
        Whether the car is in care since it was new.
    whole_car
        Whether the component is counted for the car as a whole.
    end_on
        Day on which watching ends, by choice of it (rule 23): last neutral visit, last visit, last visit and grace,
        day of analysis; shape ``(4, windows)``.
    """

    built_on: Days
    joined_on: Days
    since_new: Flags
    whole_car: Flags
    end_on: NDArray[np.int32]


def windows_of(rows: pl.DataFrame) -> Windows:
    """Return the windows as arrays.

    Parameters
    ----------
    rows
        Rows of ``watch_end.sql``.
    """
    told = rows.sort("window_no")
    ends = ("last_neutral", "last_visit", "with_grace", "day_of_analysis")
    return Windows(
        days_of(told["built_on"]),
        days_of(told["joined_on"]),
        flags_of(told["since_new"]),
        flags_of(told["whole_car"]),
        np.array([days_of(told[name]) for name in ends]),
    )


@dataclass(frozen=True, slots=True)
class Events:
    """Events at positions, in order of position and time.

    Attributes
    ----------
    told
        One row per event: slot_no; from_papers; visit_day, fault_on, closed_on; does (more was done than looking),
        renews, modifies (the unit becomes one of another variant, neither failed nor renewed); reads_as (the
        strongest), reason_recorded, is_fault, joining, position_inferred, is_used (a used part was fitted); answered
        (the unit had a fault before: rule 10), open_fault (a fault found and left was waiting: rule 11); end_step,
        start_step, removed_step, place_step: number of the repair (below 0 where papers tell) that tells the strongest
        reason, that fitted the new unit or modified it, that tells what was taken out, and that tells the place.
    slot
        Position of each, 0, 1, 2, shape ``(events,)``.
    ends
        Whether it ends a stretch: the first fault of a unit, its renewal, a modification before.
    begins
        Whether it begins one: a renewal, or a modification of a unit that had no fault before.
    of_repair
        Row of the event that each repair belongs to, -1 where it belongs to none, shape ``(repairs,)``.
    """

    told: pl.DataFrame
    slot: Numbers
    ends: Flags
    begins: Flags
    of_repair: Numbers

    def flags(self, name: str) -> Flags:
        """Return a column of flags."""
        return flags_of(self.told[name])

    def days(self, name: str) -> Days:
        """Return a column of days since 1970-01-01."""
        return days_of(self.told[name])
