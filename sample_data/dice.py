"""Seeded chance for the invented records, the same on every machine and version."""

from __future__ import annotations

import math
import random
from statistics import NormalDist
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Sequence

Choice = TypeVar("Choice")
_NORMAL = NormalDist()
_LEAST = 1e-12


class Dice:
    """A stream of chance of its own for every purpose, so that a change in one moves no other.

    Only ``random.Random.random`` is drawn from: its stream is promised to stay the same for a seed,
    those of the other methods and of NumPy's generators are not.

    Parameters
    ----------
    *key
        What the stream is for, the seed first.

    Examples
    --------
    >>> Dice(1, "use").whole(1, 6) == Dice(1, "use").whole(1, 6)
    True
    """

    __slots__ = ("_draw",)

    def __init__(self, *key: int | str) -> None:
        self._draw = random.Random(":".join(str(part) for part in key)).random

    def uniform(self, low: float = 0.0, high: float = 1.0) -> float:
        """Return a number between `low` and `high`, never exactly 0 or 1 on the unit interval."""
        return low + (high - low) * min(max(self._draw(), _LEAST), 1.0 - _LEAST)

    def chance(self, probability: float) -> bool:
        """Return whether something of that probability happens."""
        return self._draw() < probability

    def whole(self, low: int, high: int) -> int:
        """Return a whole number from `low` to `high`, both included."""
        return low + int(self._draw() * (high - low + 1))

    def normal(self) -> float:
        """Return a standard normal number."""
        return _NORMAL.inv_cdf(self.uniform())

    def lognormal(self, median: float, sigma: float) -> float:
        """Return a lognormal number of that median and log standard deviation."""
        return median * math.exp(sigma * self.normal())

    def exponential(self, mean: float = 1.0) -> float:
        """Return an exponential number of that mean."""
        return -mean * math.log(self.uniform())

    def pick(self, choices: Sequence[Choice]) -> Choice:
        """Return one of the choices, all equally likely."""
        return choices[int(self._draw() * len(choices))]

    def weighted(self, choices: Sequence[Choice], weights: Sequence[float]) -> Choice:
        """Return one of the choices by weight."""
        left = self._draw() * sum(weights)
        for choice, weight in zip(choices, weights, strict=True):
            left -= weight
            if left < 0.0:
                return choice
        return choices[-1]

    def shuffled(self, choices: Sequence[Choice]) -> list[Choice]:
        """Return the choices in a drawn order."""
        mixed = list(choices)
        for last in range(len(mixed) - 1, 0, -1):
            other = self.whole(0, last)
            mixed[last], mixed[other] = mixed[other], mixed[last]
        return mixed


class Quota:
    """Yes in exactly the stated share of the calls, so that a planted share is also the share in the data."""

    __slots__ = ("_filled", "_share")

    def __init__(self, share: float) -> None:
        self._share = share
        self._filled = 0.5

    def due(self) -> bool:
        """Return whether this call is one of the share."""
        self._filled += self._share
        if self._filled < 1.0:
            return False
        self._filled -= 1.0
        return True
