"""Maximum of a Weibull likelihood and its likelihood-ratio limits, all groups at once."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy.stats import chi2

from analytics.estimators.searching import highest, last_positive, reach
from analytics.estimators.weibull_likelihood import sums_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells
    from analytics.estimators.weibull_likelihood import Sums

    Floats = NDArray[np.float64]

LOG_SHAPES: Floats = np.linspace(math.log(0.2), math.log(15.0), 61)
"""Bracket of the search for the shape; a maximum at its edge is no finite estimate."""

SHAPES_WITHIN = 33
"""Shapes tried within the limits of the shape when a life's limits are sought."""

NEWTON_STEPS = 7
"""From the starts of `distance` these reach the root to rounding."""


@dataclass(frozen=True, slots=True)
class Peak:
    """Highest likelihood of each group.

    Attributes
    ----------
    sums
        Sums over the units, for further searches.
    log_shape, log_rate, log_likelihood
        Shape ``(groups,)``; times as shares of the yardstick.
    inside
        Whether the maximum lies inside the bracket.
    """

    sums: Sums
    log_shape: Floats
    log_rate: Floats
    log_likelihood: Floats
    inside: NDArray[np.bool_]


def profile(sums: Sums, log_shape: Floats) -> Floats:
    """Return the highest log likelihood at log shapes ``(groups, k)``."""
    likelihood = sums.at(np.exp(log_shape))
    return likelihood.log_likelihood(_no_infinity(likelihood.best_log_rate()))


def find_peak(spells: LifeSpells) -> Peak:
    """Maximise over shape and rate: best point of a grid of shapes, then the root of the slope beside it."""
    sums = sums_of(spells)
    everywhere = profile(sums, np.broadcast_to(LOG_SHAPES, (spells.groups, LOG_SHAPES.size)))
    best = np.argmax(everywhere, axis=1)
    last = LOG_SHAPES.size - 1
    low, high = LOG_SHAPES[np.maximum(best - 1, 0)], LOG_SHAPES[np.minimum(best + 1, last)]

    def rising(log_shape: Floats) -> Floats:
        likelihood = sums.at(np.exp(log_shape))
        return likelihood.slope_in_shape(_no_infinity(likelihood.best_log_rate()))

    log_shape = last_positive(rising, low[:, None], high[:, None])
    likelihood = sums.at(np.exp(log_shape))
    log_rate = _no_infinity(likelihood.best_log_rate())
    height = likelihood.log_likelihood(log_rate)
    return Peak(sums, log_shape[:, 0], log_rate[:, 0], height[:, 0], (best > 0) & (best < last))


def drop(confidence: float) -> float:
    """Return by how much the log likelihood may fall within two-sided limits of one number."""
    return float(chi2.ppf(confidence, 1)) / 2


def shape_limits(peak: Peak, confidence: float) -> tuple[Floats, Floats]:
    """Return lower and upper log shape, NaN where the bracket ends first."""
    floor = (peak.log_likelihood - drop(confidence))[:, None]
    limits = []
    for edge in (LOG_SHAPES[0], LOG_SHAPES[-1]):
        end = np.full_like(floor, edge)
        found = last_positive(lambda x: profile(peak.sums, x) - floor, peak.log_shape[:, None], end)
        limits.append(np.where(profile(peak.sums, end) < floor, found, np.nan)[:, 0])
    return limits[0], limits[1]


def life_limits(
    peak: Peak, shapes: tuple[Floats, Floats], log_hazard: float, confidence: float
) -> tuple[Floats, Floats]:
    """Return lower and upper log life at which a unit's cumulative hazard is ``exp(log_hazard)``.

    Notes
    -----
    The limits of log life = (log hazard - log rate) / shape are its extremes over the region of all (shape, rate)
    whose log likelihood is within `drop` of the peak. For each shape within its limits the extremes lie on the two
    edges of the region; the best shape is found by golden section. NaN where the region runs out of the bracket of
    shapes on that side.
    """
    floor = (peak.log_likelihood - drop(confidence))[:, None]
    lowest = np.where(np.isfinite(shapes[0]), shapes[0], LOG_SHAPES[0])[:, None]
    ends = lowest, np.where(np.isfinite(shapes[1]), shapes[1], LOG_SHAPES[-1])[:, None]

    def life(log_shape: Floats, direction: int) -> Floats:
        return (log_hazard - _edge_of_region(peak.sums, log_shape, floor, direction)) / np.exp(log_shape)

    return _extreme(lambda x: -life(x, 1), ends, shapes, -1.0), _extreme(lambda x: life(x, -1), ends, shapes, 1.0)


def _edge_of_region(sums: Sums, log_shape: Floats, floor: Floats, direction: int) -> Floats:
    """Return the log rate below (-1) or above (1) the best one where the likelihood falls to `floor`."""
    likelihood = sums.at(np.exp(log_shape))
    best = _no_infinity(likelihood.best_log_rate())
    spare = likelihood.log_likelihood(best) - floor
    if not sums.fault_group.size:
        return best + direction * distance(spare / np.maximum(sums.exact, 1.0), direction)

    def above(log_rate: Floats) -> Floats:
        return likelihood.log_likelihood(log_rate) - floor

    return last_positive(above, best, reach(above, best, direction))


def distance(spare: Floats, direction: int) -> Floats:
    """Return how far a log rate may move in a direction until the log likelihood per failure has fallen by `spare`.

    Notes
    -----
    The root u > 0 of ``exp(u) - 1 - u`` (upwards) or ``exp(-u) - 1 + u`` (downwards) = `spare`; 0 where that is not
    positive. Both are convex and rise: from above, as from the starts here after one step, Newton's steps only fall.

    Examples
    --------
    >>> distance(np.array([math.e - 2, 0.0]), 1).round(6).tolist()
    [1.0, 0.0]
    >>> distance(np.array([1 / math.e]), -1).round(6).tolist()
    [1.0]
    """
    some = spare > 0
    spare = np.where(some, spare, 1.0)
    width = np.sqrt(2 * spare)
    root = np.log1p(spare + width) if direction > 0 else np.maximum(spare, width)
    for _ in range(NEWTON_STEPS):
        slope = direction * np.expm1(direction * root)
        root = root - (direction * slope - direction * root - spare) / slope
    return np.where(some, root, 0.0)


def _extreme(
    value: Callable[[Floats], Floats], ends: tuple[Floats, Floats], shapes: tuple[Floats, Floats], sign: float
) -> Floats:
    """Return ``sign`` times the highest value over log shapes between `ends`, NaN at an end that is no limit."""
    tried = ends[0] + (ends[1] - ends[0]) * np.linspace(0, 1, SHAPES_WITHIN)
    best = np.argmax(value(tried), axis=1)
    rows, last = np.arange(best.size), SHAPES_WITHIN - 1
    low, high = tried[rows, np.maximum(best - 1, 0)], tried[rows, np.minimum(best + 1, last)]
    found = value(highest(value, low[:, None], high[:, None]))[:, 0]
    runs_out = ((best == 0) & ~np.isfinite(shapes[0])) | ((best == last) & ~np.isfinite(shapes[1]))
    return np.where(runs_out, np.nan, sign * found)


def _no_infinity(log_rate: Floats) -> Floats:
    """Return a finite log rate also for groups without failure: a rate that adds nothing."""
    return np.where(np.isfinite(log_rate), log_rate, -700.0)
