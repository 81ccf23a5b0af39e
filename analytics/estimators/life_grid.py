"""The likelihood of a Weibull law on a grid of shapes and median lives, every kind of unit together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.known_units import exposure, interval_width, log_fails_within, sum_log_failures
from analytics.estimators.shapes import LN2, LOG_LN2, LOG_SHAPE, SHAPE
from analytics.estimators.unknown_units import unknown_log_likelihood

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]

LIFE_POINTS = 121
"""Points of a grid of log median lives."""

SEARCH_POINTS = 25
SEARCH_FROM, SEARCH_TO = -4.0, 8.0
"""Where the likelihood is looked for: logs of the median life over the longest exit."""

SEARCHES = 3
"""How often the range is narrowed; each time to where the likelihood is not negligible."""

NEGLIGIBLE = 9.0
"""Log likelihoods this far below the highest are left outside the grid."""


@dataclass(frozen=True, slots=True)
class LifeGrid:
    """Log likelihood of each group.

    Attributes
    ----------
    log_life50
        Shape ``(groups, lives)``, evenly spaced logs of the median life as a share of the group's yardstick.
    log_likelihood
        Shape ``(groups, shapes, lives)``.
    """

    log_life50: Floats
    log_likelihood: Floats


def grid_likelihood(spells: LifeSpells) -> Callable[[Floats], Floats]:
    """Return the function from log median lives ``(groups, lives)`` to log likelihoods ``(groups, shapes, lives)``.

    Notes
    -----
    Units of known age enter through sums taken once: with H(t) = ln 2 (t / life50)^shape a group needs no more than
    W = sum(t^shape - entry^shape) of each shape, its exact failures and the sum of their log times. Silent faults and
    units of unknown age are looked up unit by unit.
    """
    known, unknown = spells.where(spells.age_known), spells.where(~spells.age_known)
    exact = known.count(known.exact)[:, None, None]
    base = exact * (LOG_SHAPE + LOG_LN2)[:, None] + ((SHAPE - 1) * sum_log_failures(known)[:, None])[:, :, None]
    watched = exposure(known, SHAPE)[:, :, None]
    width = interval_width(known, np.broadcast_to(SHAPE, (int(known.found.sum()), SHAPE.size)))
    fault_group = known.group[known.found]

    def log_likelihood(log_life50: Floats) -> Floats:
        log_rate = -SHAPE[:, None] * log_life50[:, None, :]
        value = base + exact * log_rate - LN2 * watched * np.exp(np.minimum(log_rate, 600.0))
        np.add.at(value, fault_group, log_fails_within(LOG_LN2 + width[:, :, None] + log_rate[fault_group]))
        return value + unknown_log_likelihood(unknown, log_life50)

    return log_likelihood


def life_grid(spells: LifeSpells) -> LifeGrid:
    """Return each group's likelihood on a grid of its own, laid where the likelihood is not negligible."""
    log_likelihood = grid_likelihood(spells)
    low, high = np.full(spells.groups, SEARCH_FROM), np.full(spells.groups, SEARCH_TO)
    for _ in range(SEARCHES):
        low, high = _narrowed(log_likelihood, low, high)
    log_life50 = even(low, high, LIFE_POINTS)
    return LifeGrid(log_life50, log_likelihood(log_life50))


def even(low: Floats, high: Floats, points: int) -> Floats:
    """Return evenly spaced points from `low` to `high`, a row per group."""
    return low[:, None] + (high - low)[:, None] * np.linspace(0.0, 1.0, points)


def _narrowed(log_likelihood: Callable[[Floats], Floats], low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """Return the range of lives that matter, one step of the search wider on both sides."""
    tried = even(low, high, SEARCH_POINTS)
    best = log_likelihood(tried).max(axis=1)
    good = best > best.max(axis=1, keepdims=True) - NEGLIGIBLE
    first, last = good.argmax(axis=1), SEARCH_POINTS - 1 - good[:, ::-1].argmax(axis=1)
    rows = np.arange(low.size)
    return tried[rows, np.maximum(first - 1, 0)], tried[rows, np.minimum(last + 1, SEARCH_POINTS - 1)]
