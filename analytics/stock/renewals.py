"""Renewals of positions over many years, of cars that leave meanwhile: expected number and pairs, by steps of time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Renewals:
    """Failures of a position up to the end of each step, ``(steps, ...)``.

    Attributes
    ----------
    mean
        Expected failures.
    pairs
        Expected ordered pairs of failures, E N(N - 1).
    """

    mean: Floats
    pairs: Floats


def renewals(in_place: Floats, new: Floats, here: Floats) -> Renewals:
    """Return the expected failures of positions whose units are replaced whenever they fail.

    Parameters
    ----------
    in_place, new
        Chance that the unit in place, and a new one, has failed by the end of each step, ``(steps, ...)``.
    here
        Chance that the car is still here in each step, broadcast against ``(steps, ...)``.

    Notes
    -----
    With f the life law by step, m = f + f * m is the renewal density of a new unit, h = g + g * m that of the unit in
    place with residual law g. A sum of two times that fall into steps i and j falls into i + j or the next, half each.
    Failures are weighted by the chance that the car is still here when they happen; of a pair that is the later one.

    References
    ----------
    .. [1] Cox (1962), Renewal Theory, chapters 2 and 4; from memory.

    Examples
    --------
    >>> steps = np.arange(1, 401)[:, None] / 100
    >>> exponential = -np.expm1(-steps)
    >>> found = renewals(exponential, exponential, np.ones((400, 1)))
    >>> found.mean[-1].round(2).item(), found.pairs[-1].round(1).item()
    (4.0, 16.0)
    """
    steps = in_place.shape[0]
    first, life = np.diff(in_place, axis=0, prepend=0.0), np.diff(new, axis=0, prepend=0.0)
    density = np.empty_like(life)
    for k in range(steps):
        earlier = _meeting(density, life, k, whole=False)
        density[k] = (life[k] + earlier) / (1 - life[0] / 2)
    rate, again = np.empty_like(first), np.empty_like(first)
    for k in range(steps):
        rate[k] = first[k] + _meeting(first, density, k)
    for k in range(steps):
        again[k] = _meeting(rate, density, k)
    weight = np.broadcast_to(here, rate.shape)
    return Renewals(np.cumsum(weight * rate, axis=0), 2 * np.cumsum(weight * again, axis=0))


def _meeting(first: Floats, then: Floats, k: int, *, whole: bool = True) -> Floats:
    """Return the chance that two times in a row end in step k; without those whose first falls into k, if not whole."""
    last = k + 1 if whole else k
    same = np.einsum("j...,j...->...", first[:last], then[k - np.arange(last)]) if last else 0.0
    before = np.einsum("j...,j...->...", first[:k], then[k - 1 - np.arange(k)]) if k else 0.0
    met: Floats = np.asarray(0.5 * (same + before)) + np.zeros(first.shape[1:])
    return met
