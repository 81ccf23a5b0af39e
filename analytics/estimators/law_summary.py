"""Laws of life as columns of numbers: estimate and limits of shape, lives and survival, and the status of rule 34."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.life_spells import LARGEST_LOG
from analytics.estimators.result_frame import shown
from analytics.estimators.shapes import CHARACTERISTIC

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.law_quantiles import LawTable
    from analytics.estimators.life_laws import LifeLaws
    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]
    Flags = NDArray[np.bool_]

LIVES = {"life": CHARACTERISTIC, "life10": 0.1, "life50": 0.5}
"""Lives that are shown, with the share failed by then."""

SUMMARY = tuple(name + side for name in ("shape", *LIVES) for side in ("", "_lower", "_upper"))
"""Columns of a summary."""


def shares(parameters: Parameters) -> tuple[float, float, float]:
    """Return the shares below estimate, lower and upper limit: the median and two equal tails."""
    tail = (1 - parameters.confidence) / 2
    return 0.5, tail, 1 - tail


def law_summary(laws: LifeLaws, table: LawTable, parameters: Parameters) -> tuple[dict[str, pl.Series], Flags]:
    """Return the columns of `SUMMARY`, and which groups have a life without an upper limit.

    Notes
    -----
    Rule 34. The estimate is the median of the law's weights. A life whose upper limit is more than
    `upper_open_ratio` times the lower one keeps no upper limit. A bound keeps the lower limits of its lives
    and nothing else.
    """
    wanted, whole = shares(parameters), ~laws.bound_only
    parts = np.stack([table.shape(wanted), *(table.life(failed, wanted) for failed in LIVES.values())], axis=1)
    points = np.exp(np.where(np.abs(parts) < LARGEST_LOG, parts, np.nan))
    open_life = points[:, 1:, 2] > parameters.upper_open_ratio * points[:, 1:, 1]
    columns: dict[str, pl.Series] = {}
    for place, name in enumerate(("shape", *LIVES)):
        any_limit = laws.units > 0 if place else whole
        closed = whole & ~open_life[:, place - 1] if place else whole
        columns[name] = shown(points[:, place, 0], whole)
        columns[name + "_lower"] = shown(points[:, place, 1], any_limit)
        columns[name + "_upper"] = shown(points[:, place, 2], closed)
    return columns, whole & open_life.any(axis=1)


def survival_summary(
    laws: LifeLaws, table: LawTable, row: Counts, age: Floats, parameters: Parameters
) -> dict[str, pl.Series]:
    """Return `survival`, `lower`, `upper` of the law in each `row` at an `age` of the unit, days or km.

    A bound keeps its lower limit only.
    """
    points = table.survival(row, np.log(age), shares(parameters))
    whole, any_unit = ~laws.bound_only[row], laws.units[row] > 0
    return {
        "survival": shown(points[:, 0], whole),
        "lower": shown(points[:, 1], any_unit),
        "upper": shown(points[:, 2], whole),
    }


def words(values: NDArray[np.str_]) -> pl.Series:
    """Return a column of words."""
    return pl.Series(values.tolist(), dtype=pl.String)
