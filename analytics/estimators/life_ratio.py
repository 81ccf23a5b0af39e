"""How many times as long one group lasts as another: the ratio of two median lives, from both posteriors."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.law_summary import shares, words
from analytics.estimators.life_spells import LARGEST_LOG
from analytics.estimators.result_frame import shown
from analytics.estimators.searching import last_positive

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.life_laws import LifeLaws
    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

LEAST_P = 1e-4
"""The grids end where a law weighs about so little: no smaller p-value is told."""

STEPS = 30
PAIRS_AT_ONCE = 1024
"""Pairs handled in one go; bounds the memory."""


def life_ratios(laws: LifeLaws, first: Counts, second: Counts, parameters: Parameters) -> pl.DataFrame:
    r"""Compare the median lives of pairs of groups.

    Parameters
    ----------
    laws
        What is believed about each group, from its own units alone.
    first, second
        Shape ``(pairs,)``: rows of `laws`.
    parameters
        `own_failures`, `confidence` of the limits.

    Returns
    -------
    DataFrame
        A row per pair: `life_ratio` (median life of the second over that of the first), `lower`, `upper`, `p_value`,
        `status`: ``ok``; ``bound only`` (one group has no failure: one limit only); ``too few`` (no group has
        `own_failures`): all numbers are null then.

    Notes
    -----
    The two groups have laws of their own, in life and in shape. With F the posterior of log life50 of the second less
    log life50 of the first, the ratio is the median of F, the limits are its equal tails, and the p-value is twice the
    smaller of F(0) and 1 - F(0): below 0.10 exactly where 90 % limits leave 1 out. Like every life it takes units of
    known and of unknown age. A group without failure has a law that ends nowhere; only what speaks for its longer
    life counts. Limits that lie far apart are shown all the same: leaving out those that hold 1 would make the
    others hold the truth too rarely.
    """
    parts = [slice(start, start + PAIRS_AT_ONCE) for start in range(0, first.size, PAIRS_AT_ONCE)]
    wanted = shares(parameters)
    empty = np.empty((0, len(wanted) + 1))
    points = np.concatenate([empty, *(_points(laws, first[part], second[part], wanted) for part in parts)])
    log_ratio, below_one = points[:, :-1], points[:, -1]
    none_first, none_second = laws.failures[first] == 0, laws.failures[second] == 0
    # a law without failure speaks for a long life only
    smaller = np.where(
        none_second, below_one, np.where(none_first, 1 - below_one, np.minimum(below_one, 1 - below_one))
    )
    most = np.maximum(laws.failures[first], laws.failures[second])
    watched = (laws.units[first] > 0) & (laws.units[second] > 0)
    told = (most >= parameters.own_failures) & watched
    status = np.where(told, np.where(none_first | none_second, "bound only", "ok"), "too few")
    ratio = np.exp(np.clip(log_ratio, -LARGEST_LOG, LARGEST_LOG))
    return pl.DataFrame(
        {
            "life_ratio": shown(ratio[:, 0], told & ~none_first & ~none_second),
            "lower": shown(ratio[:, 1], told & ~none_first),
            "upper": shown(ratio[:, 2], told & ~none_second),
            "p_value": shown(np.clip(2 * smaller, LEAST_P, 1.0), told),
            "status": words(status),
        }
    )


def _points(laws: LifeLaws, first: Counts, second: Counts, wanted: tuple[float, ...]) -> Floats:
    """Return points of log life50 of the second less that of the first, and its weight below 0, ``(pairs, k + 1)``."""
    weight = laws.only(first).weight.sum(axis=1)
    centre = np.log(laws.yardstick[first])[:, None] + laws.log_life50[first]
    below = np.pad(np.cumsum(laws.only(second).weight.sum(axis=1), axis=1), ((0, 0), (1, 0)))
    cells = below.shape[1] - 1
    step = (laws.log_life50[second, 1] - laws.log_life50[second, 0])[:, None]
    edge = (np.log(laws.yardstick[second]) + laws.log_life50[second, 0])[:, None] - step / 2

    def share_below(difference: Floats) -> Floats:
        """Each life of the first is a point, each of the second is spread over its cell."""
        columns = []
        for value in difference.T:
            place = np.clip((centre + value[:, None] - edge) / step, 0.0, cells)
            cell = np.minimum(place.astype(np.int64), cells - 1)
            left = np.take_along_axis(below, cell, axis=1)
            part = np.take_along_axis(below, cell + 1, axis=1) - left
            columns.append((weight * (left + (place - cell) * part)).sum(axis=1))
        return np.stack(columns, axis=1)

    low = (edge - centre[:, -1:]) + np.zeros(len(wanted))
    high = (edge + step * cells - centre[:, :1]) + np.zeros(len(wanted))
    found = last_positive(lambda value: np.asarray(wanted) - share_below(value), low, high, STEPS)
    return np.concatenate([found, share_below(np.zeros((first.size, 1)))], axis=1)
