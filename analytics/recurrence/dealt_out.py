"""How often chance alone tells two groups apart as much: whole cars dealt out anew, or sides of a car swapped."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

STAGES = (99, 900, 9000)
"""Draws are added until enough of them exceed what was found."""
ENOUGH = 20
SAME = 1e-9
CELLS = 2_000_000


def cars_dealt_out(value: Floats, is_second: NDArray[np.bool_], stratum: Ints, rng: np.random.Generator) -> float:
    """Return the two-sided p-value of the sum over the second group, cars dealt out anew within their strata.

    Parameters
    ----------
    value
        One number per car, ``(n,)``.
    is_second
        Whether the car is of the second group.
    stratum
        Cars change places within a stratum only.
    rng
        Random numbers.

    Notes
    -----
    Draws stop once `ENOUGH` of them are at least as far from their mean as what was found; the p-value is then their
    share up to the last of these, otherwise the rank among all draws. Either is exact.

    References
    ----------
    .. [1] Besag and Clifford (1991), Biometrika 78(2), 301-304: sequential Monte Carlo p-values; from memory.
    """
    parts = []
    centre = 0.0
    for each in np.unique(stratum):
        here = stratum == each
        second = int(is_second[here].sum())
        centre += second * float(value[here].mean())
        if 0 < second < here.sum():
            parts.append((value[here], second))
    found = abs(float(value[is_second].sum()) - centre)
    fixed = sum(float(v.mean()) * n for v, n in parts)

    def drawn(draws: int) -> Floats:
        total = np.zeros(draws)
        for values, second in parts:
            total += rng.permuted(np.tile(values, (draws, 1)), axis=1)[:, :second].sum(axis=1)
        return np.abs(total - fixed)

    return _p_value(found, drawn, value.size)


def sides_swapped(difference: Floats, rng: np.random.Generator) -> float:
    """Return the two-sided p-value of the sum of differences within cars, the sides of each car swapped at random."""
    unlike = difference[difference != 0]

    def drawn(draws: int) -> Floats:
        signs = rng.integers(0, 2, size=(draws, unlike.size)) * 2.0 - 1.0
        return np.asarray(np.abs(signs @ unlike), dtype=np.float64)

    return _p_value(abs(float(unlike.sum())), drawn, unlike.size)


def _p_value(found: float, drawn: Callable[[int], Floats], width: int) -> float:
    step = max(1, CELLS // max(width, 1))
    exceeding, seen = 0, 0
    for stage in STAGES:
        while stage > 0:
            draws = min(stage, step)
            above = np.flatnonzero(drawn(draws) >= found - SAME)
            if exceeding + above.size >= ENOUGH:
                return ENOUGH / (seen + int(above[ENOUGH - exceeding - 1]) + 1)
            exceeding, seen, stage = exceeding + above.size, seen + draws, stage - draws
    return (exceeding + 1) / (seen + 1)
