"""Where on a plan a name can stand without covering a mark or another name."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

LETTER, LINE = 6.8, 18.0
"""Width of a letter of a bold name and height of its line, pixels."""

NAME_LIMIT = 190
STEP, CLEAR = 5.0, 3.0
TOUCHING = 8.0
"""A name this near to its own mark needs no line to it."""

CROSSED = 60.0
"""A line through another mark weighs as much as so many pixels of distance."""

ADDED = ("name_x", "name_y", "line_x", "line_y", "end_x", "end_y")


@dataclass(frozen=True, slots=True)
class Sheet:
    """Size of a drawing in pixels and the coordinates at its edges."""

    wide: float
    high: float
    left: float
    right: float
    top: float
    bottom: float

    def pixels(self, frame: pl.DataFrame) -> Array:
        """Return x and y of each row in pixels, shape (rows, 2)."""
        x = (frame["x"].to_numpy() - self.left) / (self.right - self.left) * self.wide
        y = (frame["y"].to_numpy() - self.top) / (self.bottom - self.top) * self.high
        return np.column_stack([x, y]).astype(float)

    def units(self, at: Array) -> tuple[float, float]:
        """Return a point given in pixels in the drawing's coordinates."""
        x = self.left + at[0] / self.wide * (self.right - self.left)
        return float(x), float(self.top + at[1] / self.high * (self.bottom - self.top))


def placed(named: pl.DataFrame, marks: pl.DataFrame, sheet: Sheet) -> pl.DataFrame:
    """Find a spot for each name: the nearest to its mark that is free of marks and names; without any, no name.

    Parameters
    ----------
    named
        location, label, x, y: the places to name, the most important first.
    marks
        location, x, y, radius (pixels): every mark on the sheet.
    sheet
        The drawing's size.

    Returns
    -------
    polars.DataFrame
        The rows that can be named, and name_x, name_y (middle of the name), line_x, line_y, end_x, end_y (a line from
        the mark's edge to the name) in the drawing's coordinates, and off: whether the name needs that line.
    """
    at, radii = sheet.pixels(marks), marks["radius"].to_numpy().astype(float)
    taken: list[Array] = []
    rows = []
    for row, own in zip(named.iter_rows(named=True), sheet.pixels(named), strict=True):  # three of them
        half = np.array([min(NAME_LIMIT, LETTER * len(row["label"])) / 2, LINE / 2])
        others = (marks["location"] != row["location"]).to_numpy()
        mine = float(radii[~others].max(initial=0.0))
        spots = _free(_spots(half, sheet), half, at, radii, taken)
        if not len(spots):
            continue
        near = _nearest(spots, half, own)
        gap = np.hypot(*(near - own).T) - mine
        spot = int(np.argmin(gap + CROSSED * _crossed(own, near, at[others], radii[others]) * (gap > TOUCHING)))
        taken.append(np.concatenate([spots[spot] - half, spots[spot] + half]))
        x, y = sheet.units(spots[spot])
        end = sheet.units(near[spot])
        edge = sheet.units(own + (near[spot] - own) * mine / (gap[spot] + mine))
        told = dict(zip(ADDED, (x, y, *edge, *end), strict=True))
        rows.append({**row, **told, "off": bool(gap[spot] > TOUCHING)})
    floats = dict.fromkeys(ADDED, pl.Float64)
    return pl.DataFrame(rows, schema={**named.schema, **floats, "off": pl.Boolean})


def _spots(half: Array, sheet: Sheet) -> Array:
    """Return every middle that keeps a name of this size on the sheet, shape (spots, 2)."""
    x = np.arange(half[0], sheet.wide - half[0] + 0.1, STEP)
    y = np.arange(half[1], sheet.high - half[1] + 0.1, STEP)
    return np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)


def _nearest(spots: Array, half: Array, to: Array) -> Array:
    """Return the point of each name's box that is nearest to a point."""
    return np.clip(to, spots - half, spots + half)


def _free(spots: Array, half: Array, at: Array, radii: Array, taken: list[Array]) -> Array:
    """Keep the spots whose box meets no mark and no name that stands already."""
    free = np.ones(len(spots), dtype=bool)
    for middle, radius in zip(at, radii, strict=True):  # some forty marks
        free &= np.hypot(*(_nearest(spots, half, middle) - middle).T) > radius + CLEAR
    for box in taken:
        free &= ~((spots + half > box[:2] - CLEAR) & (spots - half < box[2:] + CLEAR)).all(axis=1)
    return spots[free]


def _crossed(start: Array, ends: Array, at: Array, radii: Array) -> Array:
    """Count the marks that a straight line from the start to each end meets, shape (ends,)."""
    along = ends - start
    length = np.maximum((along**2).sum(axis=1), 1e-9)
    share = np.clip((along @ (at - start).T) / length[:, None], 0.0, 1.0)
    foot = start + share[..., None] * along[:, None, :]
    apart = np.hypot(foot[..., 0] - at[:, 0], foot[..., 1] - at[:, 1])
    crossed: Array = (apart < radii + 1).sum(axis=1).astype(float)
    return crossed
