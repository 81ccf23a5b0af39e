"""Ages of a unit at which a life model is asked for its survival."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.spells_in import refuse_rows, times
from analytics.scales import DAYS_PER_YEAR

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Counts = NDArray[np.int64]

YEARS = (1, 2, 3, 4, 5, 6, 8, 10, 12, 15, 20, 25, 30, 40)
THOUSANDS_OF_KM = (5, 10, 15, 20, 30, 40, 50, 60, 80, 100, 120, 150, 200, 250)
ROUND: dict[str, Counts] = {
    "age": np.rint(np.array(YEARS) * DAYS_PER_YEAR).astype(np.int64),
    "distance": np.array(THOUSANDS_OF_KM) * 1000,
}
"""Round ages in days and in km."""

QUARTERS = np.array([0.25, 0.5, 0.75, 1.0])
"""Shares of the longest exit, where the scale is not known."""


def ages_asked(rows: LifeSpells, ages: pl.DataFrame | None) -> tuple[Counts, Counts]:
    """Return group number and age, in whole days or km, for every answer that is wanted.

    Parameters
    ----------
    rows
        The spells; column `scale` of their levels, if there is one, chooses the round ages.
    ages
        Column `time` and any grouping columns; None = round ages up to the longest exit, at least one.

    Raises
    ------
    SpellError
        If a `time` is missing, not a number or below 1.
    """
    if ages is None:
        return _round_ages(rows)
    (time,) = times(ages, "time", where="life_models(ages)")
    refuse_rows(time < 1, "time is below 1", "life_models(ages)", "ask at whole days or km from 1 on", time=time)
    levels = rows.levels.with_row_index("asked_group")
    shared = [column for column in rows.levels.columns if column in ages.columns]
    wanted = ages.select(*shared, "time")
    pairs = levels.join(wanted, on=shared, nulls_equal=True) if shared else levels.join(wanted, how="cross")
    pairs = pairs.select(pl.col("asked_group").cast(pl.Int64), pl.col("time").cast(pl.Int64)).unique()
    pairs = pairs.sort("asked_group", "time")
    return pairs["asked_group"].to_numpy(), pairs["time"].to_numpy()


def _round_ages(rows: LifeSpells) -> tuple[Counts, Counts]:
    scale = rows.levels["scale"].to_list() if "scale" in rows.levels.columns else [""] * rows.groups
    per_group = [_up_to(word, longest) for word, longest in zip(scale, rows.yardstick.tolist(), strict=True)]
    group = np.repeat(np.arange(rows.groups), [len(some) for some in per_group])
    return group, np.concatenate([np.empty(0, np.int64), *per_group])


def _up_to(scale: str, longest: float) -> Counts:
    if scale not in ROUND:
        return np.unique(np.maximum(np.rint(QUARTERS * longest), 1)).astype(np.int64)
    return ROUND[scale][: max(1, int(np.searchsorted(ROUND[scale], longest, side="right")))]
