"""Which life law each unit follows in a forecast, and draws from it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy.special import gammaincinv

from analytics.estimators import forecast_laws
from analytics.estimators.seeds import generator

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]

DRAWS = 210
"""Laws drawn of each group: 200 or more, and the same number for each of the 15 lead times."""

HEAVIEST = 12
"""Cells of the posterior that give expected counts."""

GROUP = ("component", "grouping", "level", "scale")
KEY = ["component", "level", "scale"]
SEED = "demand"


@dataclass(frozen=True, slots=True)
class StockLaws:
    """Life laws of components, and of variants where rule 33 shows these first.

    Attributes
    ----------
    key
        `component`, `level` (``all`` or a variant), `scale`, `law` (row number), `failures`; a row per law.
    by_distance
        Components that wear by distance.
    shape, life
        Draws, ``(laws, DRAWS)``; life in days or km.
    heavy_shape, heavy_life, heavy_weight
        Heaviest cells, ``(laws, HEAVIEST)``.
    """

    key: pl.DataFrame
    by_distance: tuple[str, ...]
    shape: Floats
    life: Floats
    heavy_shape: Floats
    heavy_life: Floats
    heavy_weight: Floats


def stock_laws(
    spells: pl.DataFrame, groupings: pl.DataFrame, scales: pl.DataFrame, parameters: Parameters
) -> StockLaws:
    """Fit the laws that a forecast draws from.

    Parameters
    ----------
    spells
        Snapshot table ``spell`` with `family` and `fitted_variant` (``unknown`` where nobody tells it).
    groupings
        `component`, `grouping`, `level`, `scale`, `default_grouping` (rule 33).
    scales
        `component`, `verdict`, as in snapshot table ``scale_choice``.
    parameters
        Rule 34.
    """
    by_distance = _by_distance(scales, spells)
    of_use = spells.filter((pl.col("scale") == "age") | pl.col("component").is_in(by_distance))
    every = of_use.with_columns(grouping=pl.lit("component"), level=pl.lit("all"))
    shown = groupings.filter((pl.col("grouping") == "variant") & pl.col("default_grouping")).select(KEY).unique()
    variants = of_use.with_columns(grouping=pl.lit("variant"), level="fitted_variant").join(shown, on=KEY, how="semi")
    laws = forecast_laws(pl.concat([every, variants]), GROUP, family="family", parameters=parameters)
    drawn, heavy = laws.draws(DRAWS, SEED), laws.heaviest(HEAVIEST)
    groups = laws.failures.size
    return StockLaws(
        laws.levels.select(KEY).with_columns(
            law=pl.int_range(groups, dtype=pl.Int64), failures=pl.Series(laws.failures, dtype=pl.Int64)
        ),
        tuple(by_distance),
        *(drawn[name].to_numpy().reshape(groups, DRAWS) for name in ("shape", "life")),
        *(heavy[name].to_numpy().reshape(groups, -1) for name in ("shape", "life", "weight")),
    )


def gamma_draws(count: float, exposure: float, *key: str) -> Floats:
    """Return draws of a gamma law of rate `exposure`, one from each of `DRAWS` equal slices in random order."""
    return np.asarray(gammaincinv(count, places(*key)) / exposure, dtype=np.float64)


def places(*key: str) -> Floats:
    """Return a place in each of `DRAWS` equal slices of 0 to 1, in random order."""
    rng = generator(SEED, *key)
    return np.asarray(rng.permutation((np.arange(DRAWS) + rng.random(DRAWS)) / DRAWS), dtype=np.float64)


def _by_distance(scales: pl.DataFrame, spells: pl.DataFrame) -> list[str]:
    if scales.is_empty():
        return []
    told = scales.filter(pl.col("verdict") == "distance")["component"]
    fitted = spells.filter(pl.col("scale") == "distance")["component"].unique()
    return sorted(set(told) & set(fitted))
