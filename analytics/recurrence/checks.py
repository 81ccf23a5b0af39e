"""Checks of many complaints side by side, and the orders they can be made in: safety first, outside the ranking."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analytics.estimators.sequencing import best_order, minutes_in_order

if TYPE_CHECKING:
    from typing import Self

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]
Flags = NDArray[np.bool_]


@dataclass(frozen=True, slots=True)
class Grid:
    """Where the candidates of a frame stand in a rectangle: a row per cell, missing ones at the end.

    Attributes
    ----------
    row, place
        Of each candidate, shape (candidates,).
    there
        Whether there is a candidate, shape (rows, n).
    """

    row: Whole
    place: Whole
    there: Flags

    @classmethod
    def over(cls, told: pl.DataFrame, cell: list[str]) -> Self:
        """Lay out a frame that is sorted by its cells."""
        row = told.select(pl.struct(cell).rle_id()).to_series().to_numpy().astype(np.intp)
        begins = np.flatnonzero(np.diff(row, prepend=-1))
        place = np.arange(row.size) - begins[row]
        there = np.zeros((int(row.max(initial=-1)) + 1, int(place.max(initial=-1)) + 1), dtype=bool)
        there[row, place] = True
        return cls(row, place, there)

    def of(self, values: pl.Series, empty: float = 0.0) -> Floats:
        """Return a column as a rectangle, `empty` where there is no candidate."""
        filled = np.full(self.there.shape, empty)
        filled[self.row, self.place] = values.to_numpy()
        return filled

    def back(self, values: NDArray[np.generic]) -> pl.Series:
        """Return a rectangle as a column."""
        return pl.Series(values[self.row, self.place])


@dataclass(frozen=True, slots=True)
class Checks:
    """Candidates of many complaints, a row each.

    Attributes
    ----------
    there
        Whether there is a check, shape (rows, n).
    minutes, cover, opening
        Of each, shape (rows, n), as in `best_order`; unknown minutes count as 1, and covers as open then.
    safety
        Whether it is safety-critical, shape (rows, n).
    """

    there: Flags
    minutes: Floats
    cover: Whole
    opening: Floats
    safety: Flags

    @classmethod
    def of(cls, grid: Grid, told: pl.DataFrame) -> Self:
        """Lay out the columns minutes, cover, opening and safety_first of a frame."""
        known = told["minutes"].is_not_null()
        numbers = told["cover"].rank("dense").cast(pl.Float64).fill_null(0.0) - 1.0
        return cls(
            grid.there,
            grid.of(told["minutes"].fill_null(1.0), 1.0),
            grid.of(numbers, -1.0).astype(np.intp),
            grid.of(told["opening"].fill_null(0.0) * known),
            grid.of(told["safety_first"].cast(pl.Float64)) > 0,
        )

    @property
    def free(self) -> Flags:
        """Whether a check is ranked, shape (rows, n)."""
        return self.there & ~self.safety

    def rows(self, part: slice) -> Checks:
        """Return some of the rows."""
        there, minutes, cover = self.there[part], self.minutes[part], self.cover[part]
        return Checks(there, minutes, cover, self.opening[part], self.safety[part])

    def only(self, there: Flags) -> Checks:
        """Return the checks that are there at the time."""
        return replace(self, there=self.there & there)

    def opened(self, made: Flags) -> Flags:
        """Return which checks lie behind a cover that one of the checks `made` has opened, shape (rows, n)."""
        same = (self.cover[:, :, None] == self.cover[:, None, :]) & (self.cover >= 0)[:, :, None]
        behind: Flags = (same & made[:, None, :]).any(axis=2)
        return behind

    def best(self, gain: Floats) -> Whole:
        """Return each row's order: safety first by name, then by the greatest gain per minute, shape (rows, n)."""
        opening = np.where(self.free & ~self.opened(self.there & self.safety), self.opening, 0.0)
        order = best_order(
            np.where(self.free, gain, 0.0),
            np.where(self.free, self.minutes, 1.0),
            np.where(self.free, self.cover, -1),
            opening,
        )
        return self.by(np.argsort(order, axis=1).astype(np.float64))

    def by(self, key: Floats) -> Whole:
        """Return each row's order by a key, the least first; safety first by name, what is not there last."""
        late = np.where(self.free, 1, np.where(self.there, 0, 2))
        sorted_by = np.where(self.free, key, 0.0)
        order: Whole = np.lexsort((sorted_by, late), axis=1)
        return order

    def steps(self, order: Whole) -> Floats:
        """Return the minutes of each step of an order, shape (rows, n)."""
        return minutes_in_order(order, np.where(self.there, self.minutes, 0.0), self.cover, self.opening)
