"""Weibull life law by maximum likelihood where the age of some units is not known (renewal likelihood)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.grid_between import along
from analytics.estimators.life_grid import NEGLIGIBLE, life_grid
from analytics.estimators.life_spells import life_spells
from analytics.estimators.limits import check_confidence
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.shapes import LOG_LN2, LOG_SHAPE, SHAPE
from analytics.estimators.weibull import RETURNED, status_of
from analytics.estimators.weibull_limits import drop

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]

LIFE_STEPS = 2
"""The profile of the life is taken at this many points per step of the grid."""

GROUPS_AT_ONCE = 256
"""Groups fitted in one go; bounds the memory."""

STEEP = 4.0
"""Neighbours further below the highest point than this say nothing about its surroundings."""


def fit_weibull_residual(
    spells: pl.DataFrame, by: str | Sequence[str] = (), confidence: float = 0.95, shape: float | None = None
) -> pl.DataFrame:
    """Fit a Weibull law to each group, units of unknown age by the renewal likelihood.

    Parameters
    ----------
    spells
        As in `fit_weibull`; rows with `age_known` false count from the day (km) the unit was first seen, and
        `vehicle_age` is the car's at entry (null = not known: the equilibrium law).
    by, confidence
        As in `fit_weibull`.
    shape
        A shape that is known, within 0.25 to 12 (the nearest of the 49 tabulated ones is taken); None to estimate it.

    Returns
    -------
    DataFrame
        As `fit_weibull`. Numbers are read off a grid of 49 shapes and 121 lives: good to about 1 %.

    Raises
    ------
    SpellError
        If rows break the contract of spells.
    ValueError
        If `confidence` or `shape` is out of range.

    Notes
    -----
    The law of the unit found in a car of age a is that of a position renewed since building, see `residual_tables`.
    Exact when past units had the same life law. With most ages unknown the likelihood-ratio limits are too narrow
    (they cover 0.71 to 0.88 where 0.90 is stated): `life_posterior` is what pages show.

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame(
    ...     {
    ...         "entry": [0, 0, 0, 0],
    ...         "exit": [900, 1500, 2100, 2600],
    ...         "event": [1, 1, 1, 0],
    ...         "age_known": [False, True, True, False],
    ...         "vehicle_age": [9000, None, None, 8000],
    ...     }
    ... )
    >>> fit_weibull_residual(spells).select("failures", "status").row(0)
    (3, 'ok')
    """
    check_confidence(confidence)
    if shape is not None and not SHAPE[0] <= shape <= SHAPE[-1]:
        raise ValueError(f"shape must be within {SHAPE[0]:g} to {SHAPE[-1]:g}, got {shape!r}")
    rows = life_spells(spells, by, returned=RETURNED, where="fit_weibull_residual(spells)")
    given = None if shape is None else _nearest(shape)
    starts = range(0, max(rows.groups, 1), GROUPS_AT_ONCE)
    parts = [rows.of_groups(np.arange(start, min(start + GROUPS_AT_ONCE, rows.groups))) for start in starts]
    return pl.concat([_frame(part, given, confidence) for part in parts])


def _frame(rows: LifeSpells, given: int | None, confidence: float) -> pl.DataFrame:
    columns = _fit(rows, life_grid(rows), given, confidence)
    return result_frame(rows.levels, None, {"units": rows.count(), "failures": rows.count(rows.failed), **columns})


def _nearest(shape: float) -> int:
    return int(np.abs(LOG_SHAPE - np.log(shape)).argmin())


def _fit(rows: LifeSpells, grid: LifeGrid, given: int | None, confidence: float) -> dict[str, pl.Series]:
    enough = rows.count(rows.failed) >= (2 if given is None else 1)
    kept = slice(None) if given is None else slice(given, given + 1)
    of_shape = _top(grid.log_likelihood[:, kept])[1]
    log_shape, height, inside = _summit(np.broadcast_to(LOG_SHAPE[kept], of_shape.shape), of_shape)
    lives, of_life = _profile_of_life(grid, kept)
    log_life = _summit(lives, of_life)[0]
    inside = inside | (given is not None)
    good = enough & inside
    floor = height - drop(confidence)
    shapes = (np.full(rows.groups, np.nan),) * 2 if given is not None else _crossings(LOG_SHAPE, of_shape, floor)
    limits = _crossings(lives, of_life, floor)
    return {
        "shape": shown(np.exp(log_shape), good),
        "shape_lower": shown(np.exp(shapes[0]), good),
        "shape_upper": shown(np.exp(shapes[1]), good),
        "life": shown(rows.times(log_life), good),
        "life_lower": shown(rows.times(limits[0]), good),
        "life_upper": shown(rows.times(limits[1]), good),
        "log_likelihood": shown(height - rows.count(rows.exact) * np.log(rows.yardstick), good),
        "status": status_of(enough, inside),
    }


def _top(values: Floats) -> tuple[Floats, Floats]:
    """Return place (in points) and height of the highest point along the last axis.

    A parabola through three points, where these lie close enough together for one; else the highest point itself.
    """
    last = values.shape[-1] - 1
    best = values.argmax(axis=-1)
    highest = values.max(axis=-1)
    if last < 2:
        return best.astype(np.float64), highest
    centre = np.clip(best, 1, last - 1)
    left, right = (np.take_along_axis(values, (centre + side)[..., None], -1)[..., 0] for side in (-1, 1))
    bend = 2 * highest - left - right
    smooth = (best == centre) & (bend > 0) & (highest - np.minimum(left, right) < STEEP)
    shift = np.where(smooth, 0.5 * (right - left) / np.where(smooth, bend, 1.0), 0.0)
    return best + shift, highest + 0.25 * (right - left) * shift


def _summit(places: Floats, values: Floats) -> tuple[Floats, Floats, NDArray[np.bool_]]:
    """Return where each row is highest, how high, and whether that is inside."""
    place, height = _top(values)
    start = places[:, 0]
    step = places[:, 1] - start if places.shape[1] > 1 else np.zeros_like(start)
    best = values.argmax(axis=-1)
    return start + step * place, height, (best > 0) & (best < values.shape[-1] - 1)


def _profile_of_life(grid: LifeGrid, kept: slice) -> tuple[Floats, Floats]:
    """Return log lives (63.2 % failed), evenly spaced, and the highest likelihood over the shapes at each."""
    shift = -LOG_LN2 / SHAPE[kept]
    first, last = grid.log_life50[:, 0], grid.log_life50[:, -1]
    points = LIFE_STEPS * grid.log_life50.shape[1]
    low, high = first + shift.min(), last + shift.max()
    lives = low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, points)
    step = (grid.log_life50[:, 1] - first)[:, None, None]
    place = (lives[:, None, :] - shift[:, None] - first[:, None, None]) / step
    values = _within(grid.log_likelihood[:, kept], place)
    return lives, _top(values.transpose(0, 2, 1))[1]


def _within(values: Floats, place: Floats) -> Floats:
    """Return values at places in points along the last axis; outside, and far below the highest, a lowest value."""
    lowest = values.max(axis=(1, 2), keepdims=True) - 10 * NEGLIGIBLE
    inside = (place >= 0) & (place <= values.shape[-1] - 1)
    kept: Floats = np.where(inside, np.maximum(along(values, place), lowest), lowest)
    return kept


def _crossings(places: Floats, values: Floats, floor: Floats) -> tuple[Floats, Floats]:
    """Return the first and last place where a row passes `floor`, NaN where it never falls below it on that side."""
    places = np.broadcast_to(places, values.shape)
    above = values >= floor[:, None]
    row = np.arange(values.shape[0])
    limits = []
    for side in (1, -1):
        heights, marks, over = values[:, ::side], places[:, ::side], above[:, ::side]
        first = over.argmax(axis=1)
        before = np.maximum(first - 1, 0)
        rise = heights[row, first] - heights[row, before]
        share = (floor - heights[row, before]) / np.where(rise > 0, rise, 1.0)
        found = marks[row, before] + share * (marks[row, first] - marks[row, before])
        limits.append(np.where((first > 0) & over.any(axis=1), found, np.nan))
    return limits[0], limits[1]
