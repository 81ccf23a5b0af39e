"""Laws of life as columns of numbers: estimate and limits of shape, lives and survival, and the status of rule 34."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.law_quantiles import NARROW_FROM, law_table
from analytics.estimators.result_frame import shown
from analytics.estimators.shapes import CHARACTERISTIC

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analytics.estimators.law_quantiles import LawTable
    from analytics.estimators.life_laws import LifeLaws
    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]
    Flags = NDArray[np.bool_]

GROUPS_AT_ONCE = 128
"""Groups summarised in one go; bounds the memory."""

LIVES = {"life": CHARACTERISTIC, "life10": 0.1, "life50": 0.5}
"""Lives that are shown, with the share failed by then."""

SUMMARY = tuple(name + side for name in ("shape", *LIVES) for side in ("", "_lower", "_upper"))
"""Columns of a summary."""


def shares(parameters: Parameters) -> tuple[float, float, float]:
    """Return the shares below estimate, lower and upper limit: the median and two equal tails."""
    tail = (1 - parameters.confidence) / 2
    return 0.5, tail, 1 - tail


def law_summary(laws: LifeLaws, parameters: Parameters) -> tuple[dict[str, pl.Series], Flags]:
    """Return the columns of `SUMMARY`, and which groups have a life without an upper limit.

    Notes
    -----
    Rule 34. The estimate is the median of the law's weights. A life whose upper limit is more than
    `upper_open_ratio` times the lower one keeps no upper limit. A bound keeps the lower limits of its lives
    and nothing else.
    """
    wanted, whole = shares(parameters), ~laws.bound_only
    parts = _in_parts(laws, lambda table, _: _shape_and_lives(table, wanted))
    points = np.exp(np.where(np.abs(parts) < 700.0, parts, np.nan))
    open_life = points[:, 1:, 2] > parameters.upper_open_ratio * points[:, 1:, 1]
    columns: dict[str, pl.Series] = {}
    for place, name in enumerate(("shape", *LIVES)):
        any_limit = laws.units > 0 if place else whole
        closed = whole & ~open_life[:, place - 1] if place else whole
        columns[name] = shown(points[:, place, 0], whole)
        columns[name + "_lower"] = shown(points[:, place, 1], any_limit)
        columns[name + "_upper"] = shown(points[:, place, 2], closed)
    return columns, whole & open_life.any(axis=1)


def log_life_points(laws: LifeLaws, failed: float, parameters: Parameters) -> Floats:
    """Return median, lower and upper limit of the log life by which a share has failed, ``(groups, 3)``."""
    wanted = shares(parameters)
    return _in_parts(laws, lambda table, _: table.life(failed, wanted)).reshape(-1, 3)


def survival_summary(laws: LifeLaws, row: Counts, age: Floats, parameters: Parameters) -> dict[str, pl.Series]:
    """Return `survival`, `lower`, `upper` of the law in each `row` at an `age` of the unit, days or km.

    A bound keeps its lower limit only.
    """
    wanted = shares(parameters)
    points = np.empty((row.size, 3))
    log_age, place = np.log(age), _place_in_row(row)
    for turn in range(int(place.max(initial=-1)) + 1):
        asked = np.flatnonzero(place == turn)

        def at_age(table: LawTable, part: Counts, asked: Counts = asked) -> Floats:
            return table.survival(log_age[asked[part]], wanted)

        points[asked] = _in_parts(laws.only(row[asked]), at_age)
    whole, any_unit = ~laws.bound_only[row], laws.units[row] > 0
    return {
        "survival": shown(points[:, 0], whole),
        "lower": shown(points[:, 1], any_unit),
        "upper": shown(points[:, 2], whole),
    }


def words(values: NDArray[np.str_]) -> pl.Series:
    """Return a column of words."""
    return pl.Series(values.tolist(), dtype=pl.String)


def _shape_and_lives(table: LawTable, wanted: tuple[float, float, float]) -> Floats:
    return np.stack([table.shape(wanted), *(table.life(failed, wanted) for failed in LIVES.values())], axis=1)


def _in_parts(laws: LifeLaws, points: Callable[[LawTable, Counts], Floats]) -> Floats:
    """Compute points part by part: groups with few and with many failures apart, some hundred at once."""
    narrow = laws.failures >= NARROW_FROM
    found: list[tuple[Counts, Floats]] = []
    for rows in (np.flatnonzero(~narrow), np.flatnonzero(narrow)):
        for start in range(0, rows.size, GROUPS_AT_ONCE):
            part = rows[start : start + GROUPS_AT_ONCE]
            found.append((part, points(law_table(laws.only(part)), part)))
    if not found:
        return np.empty((0, 1 + len(LIVES), 3))
    order = np.argsort(np.concatenate([part for part, _ in found]))
    joined: Floats = np.concatenate([values for _, values in found])[order]
    return joined


def _place_in_row(row: Counts) -> Counts:
    """Return 0, 1, 2... for the first, second... time a row is asked for."""
    order = np.argsort(row, kind="stable")
    ordered = row[order]
    starts = np.flatnonzero(np.concatenate(([True], ordered[1:] != ordered[:-1]))) if row.size else ordered
    place = np.empty_like(row)
    place[order] = np.arange(row.size) - np.repeat(starts, np.diff(np.append(starts, row.size)))
    return place
