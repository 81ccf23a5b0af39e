"""The likelihood of a Weibull law on a grid of shapes and median lives, every kind of unit together."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.grid_between import along
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

SEARCH_POINTS = 13
SEARCH_FROM, SEARCH_TO = -4.0, 8.0
"""Where the likelihood is looked for: logs of the median life over the longest exit."""

SEARCHES = 3
"""How often the range is narrowed; each time to where the likelihood is not negligible."""

NEGLIGIBLE = 9.0
"""Log likelihoods this far below the highest are left outside the grid."""

EVERY = 3
NARROW = 4.0
"""Where a grid spans fewer logs of life, units of unknown age are looked up at every third point only."""

FAULTS_AT_ONCE = 256
"""Silent faults computed in one go; bounds the memory."""


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


def life_grid(spells: LifeSpells) -> LifeGrid:
    """Return each group's likelihood on a grid of its own, laid where the likelihood is not negligible."""
    known, unknown = known_likelihood(spells.where(spells.age_known)), spells.where(~spells.age_known)

    def log_likelihood(log_life50: Floats) -> Floats:
        return known(log_life50) + unknown_log_likelihood(unknown, log_life50)

    low, high = np.full(spells.groups, SEARCH_FROM), np.full(spells.groups, SEARCH_TO)
    for _ in range(SEARCHES):
        low, high = _narrowed(log_likelihood, low, high)
    log_life50 = even(low, high, LIFE_POINTS)
    return LifeGrid(log_life50, known(log_life50) + _looked_up(unknown, log_life50))


def known_likelihood(spells: LifeSpells) -> Callable[[Floats], Floats]:
    """Return the function from log median lives ``(groups, lives)`` to log likelihoods ``(groups, shapes, lives)``.

    Notes
    -----
    Units of known age enter through sums taken once: with H(t) = ln 2 (t / life50)^shape a group needs no more than
    W = sum(t^shape - entry^shape) of each shape, its exact failures and the sum of their log times. Silent faults are
    computed one by one.
    """
    exact = spells.count(spells.exact)[:, None, None]
    base = exact * (LOG_SHAPE + LOG_LN2)[:, None] + ((SHAPE - 1) * sum_log_failures(spells)[:, None])[:, :, None]
    watched = exposure(spells, SHAPE)[:, :, None]
    width = interval_width(spells, np.broadcast_to(SHAPE, (int(spells.found.sum()), SHAPE.size)))
    fault_group = spells.group[spells.found]

    def log_likelihood(log_life50: Floats) -> Floats:
        log_rate = -SHAPE[:, None] * log_life50[:, None, :]
        value = base + exact * log_rate - LN2 * watched * np.exp(np.minimum(log_rate, 600.0))
        for start in range(0, fault_group.size, FAULTS_AT_ONCE):
            part = slice(start, start + FAULTS_AT_ONCE)
            group = fault_group[part]
            np.add.at(value, group, log_fails_within(LOG_LN2 + width[part, :, None] + log_rate[group]))
        return value

    return log_likelihood


def _looked_up(unknown: LifeSpells, log_life50: Floats) -> Floats:
    """Return the likelihood of units of unknown age; on narrow grids every third point, a cubic between them."""
    found = np.zeros((unknown.groups, SHAPE.size, LIFE_POINTS))
    narrow = log_life50[:, -1] - log_life50[:, 0] < NARROW
    for groups, every in ((np.flatnonzero(narrow), EVERY), (np.flatnonzero(~narrow), 1)):
        part = unknown_log_likelihood(unknown.of_groups(groups), log_life50[groups, ::every])
        found[groups] = part if every == 1 else along(part, np.arange(LIFE_POINTS)[None, None, :] / every)
    return found


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
