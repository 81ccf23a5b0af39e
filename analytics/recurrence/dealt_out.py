"""How surely two groups differ, and by how much: one statistic against what dealing out anew makes of it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.searching import last_positive

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Draw = Callable[[int], Floats]

STAGES = (999, 9000)
"""Draws; the second stage is made where few of the first lie so far apart."""
ENOUGH = 20
SAME = 1e-9
TOUCHING = 1e-7
CELLS = 2_000_000
FURTHEST = float(np.log(1e6))
"""No ratio beyond this, on the log scale, is looked for."""
STEPS = 40


@dataclass(frozen=True, slots=True)
class Difference:
    """Two groups against each other.

    Attributes
    ----------
    ratio, lower, upper
        How many times as often the second fails; 0 and infinite where there is no such limit.
    p_value
        Two-sided chance of groups so far apart; below 1 less the confidence exactly where the limits leave out 1.
    """

    ratio: float
    lower: float
    upper: float
    p_value: float


def difference(
    apart: Callable[[Floats], Floats], draw: Draw, counts: tuple[float, float], width: int, confidence: float
) -> Difference:
    """Return ratio, limits and p-value of two groups.

    Parameters
    ----------
    apart
        From ratios ``(k,)`` to how far apart the groups lie if each is true, in standard deviations, ``(k,)``; falls
        with the ratio.
    draw
        From a number of draws to how far apart they lie, at a ratio of 1, where they are dealt out anew, ``(draws,)``.
    counts
        Failures of the first and of the second.
    width
        Numbers that a draw takes; so many draws are made at once that the memory holds them.
    confidence
        Of the limits, two-sided.

    Notes
    -----
    With T the distance, the p-value is the rank of :math:`|T(1)|` among the draws, and the limits are the ratios at
    which :math:`|T|` is the value that the p-value's bound stands for. So both rest on one statistic, and one law of
    it: as T is in standard deviations of the cars' own differences, its law hardly depends on the ratio, nor on whether
    cars of one group differ more than those of the other.

    References
    ----------
    .. [1] Chung and Romano (2013), Annals of Statistics 41(2), 484-507: exact and asymptotically robust permutation
       tests, by studentised statistics; from memory.
    """
    draws = np.sort(_drawn(draw, STAGES[0], width))[::-1]
    found = abs(float(apart(np.ones(1))[0]))
    p = (np.count_nonzero(draws >= found - SAME) + 1) / (draws.size + 1)
    # so many draws or fewer lie beyond where the p-value is below its bound
    rank = int(np.ceil((1 - confidence) * (draws.size + 1) - SAME)) - 2
    # what lies at the bound is not refused
    bound = float(draws[max(rank, 0)]) + TOUCHING
    if p * (draws.size + 1) <= ENOUGH:
        more = np.count_nonzero(_drawn(draw, STAGES[1], width) >= found - SAME)
        p = (p * (draws.size + 1) + more) / (sum(STAGES) + 1)

    middle, lower, upper = _places(apart, np.array([0.0, bound, -bound]))
    a, b = counts
    return Difference(
        middle if a and b else np.inf if b else 0.0,
        lower if b else 0.0,
        upper if a else np.inf,
        float(p),
    )


def _places(apart: Callable[[Floats], Floats], levels: Floats) -> list[float]:
    """Return the ratios at which `apart` falls to each of the levels; 0 or infinite where it does not."""
    ends = np.full(levels.size, FURTHEST)
    at = last_positive(lambda log: apart(np.exp(log)) - levels, -ends, ends, STEPS)
    near, none = np.abs(at) < FURTHEST - 1, np.where(at < 0, 0.0, np.inf)
    return [float(x) for x in np.where(near, np.exp(at), none)]


def _drawn(draw: Draw, draws: int, width: int) -> Floats:
    step = max(1, CELLS // max(width, 1))
    parts = [np.abs(draw(min(step, draws - begun))) for begun in range(0, draws, step)]
    return np.concatenate(parts)
