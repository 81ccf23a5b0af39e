"""What the same cars would have had if nothing had been done: from the fleet, and from each car's own history."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from scipy import special

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

ROUNDS = 60
LEAST = 1e-9
SHAPES = np.geomspace(0.1, 200.0, 61)
"""Shapes of the gamma law by which cars differ that are tried; large: all cars alike."""
LEVELS = np.exp(np.linspace(-1.2, 1.2, 49))
"""How many times the fitted rate the true one may be."""
PRIOR_FAILURES = (5.0, 5.0, 1.0)
"""A year, a series, a time since renewal is drawn to the average by so many failures; judgement."""


@dataclass(frozen=True, slots=True)
class Watched:
    """Time watched, in cells.

    Attributes
    ----------
    car, year, series, since
        ``(cells,)`` numbers: car, calendar year, series, and time since the last renewal.
    years
        ``(cells,)`` watched.
    failures
        ``(cells,)``.
    """

    car: Ints
    year: Ints
    series: Ints
    since: Ints
    years: Floats
    failures: Floats

    def only(self, rows: NDArray[np.bool_]) -> Watched:
        """Return some of the cells."""
        car, year, series, since = (column[rows] for column in (self.car, self.year, self.series, self.since))
        return Watched(car, year, series, since, self.years[rows], self.failures[rows])


@dataclass(frozen=True, slots=True)
class History:
    """How often cars fail, and what each car's own history says of it.

    Attributes
    ----------
    rate
        Failures a year of a car like the others.
    year, series, since
        Factors by number.
    seen
        Failures behind each factor of `year` and of `since`.
    chance
        ``(SHAPES, LEVELS)``: how likely each shape is of the gamma law, with mean 1, by which cars differ, together
        with how many times `rate` the true one is.
    failures, usual
        Per car: its own failures, and those of a car like the others in the same time.
    """

    rate: float
    year: Floats
    series: Floats
    since: Floats
    seen: tuple[Floats, Floats]
    chance: Floats
    failures: Floats
    usual: Floats

    def of(self, watched: Watched) -> Floats:
        """Return the failures of a car like the others in each cell."""
        factors = self.year[watched.year] * self.series[watched.series] * self.since[watched.since]
        return np.asarray(self.rate * watched.years * factors, dtype=np.float64)


def history_of(watched: Watched, cars: int, sizes: tuple[int, int, int]) -> History:
    r"""Learn from unmodified cars how often they fail and how cars differ.

    Parameters
    ----------
    watched
        Unmodified time up to and with the failure that led to a modification, if any.
    cars
        Number of cars, those without such time included.
    sizes
        How many calendar years, series and times since the last renewal there are.

    Notes
    -----
    Failures of a car are Poisson with a mean of :math:`\theta_c` times rate, time, and factors of the calendar year,
    the series and the time since the last renewal, :math:`\theta_c \sim \mathrm{Gamma}(k, k)`. Fitted by expectation
    and maximisation: given the others, each factor is failures over those expected with each car's posterior mean.
    Whoever decides by what has been seen so far when to modify a car does not bias this: the decision is no part of
    the likelihood. That holds only if the failure that led to it is counted.

    References
    ----------
    .. [1] Hauer (1997), Observational Before-After Studies in Road Safety: expectation from a reference group and
       the unit's own history, against regression to the mean; from memory.
    """
    failures = _summed(watched.car, watched.failures, cars)
    total = max(float(failures.sum()), 0.5)
    codes = (watched.year, watched.series, watched.since)
    factors = [np.ones(size) for size in sizes]
    rate, shape, usual = total / max(float(watched.years.sum()), LEAST), 1.0, np.zeros(cars)
    for _ in range(ROUNDS):
        cell = rate * watched.years * factors[0][codes[0]] * factors[1][codes[1]] * factors[2][codes[2]]
        usual = _summed(watched.car, cell, cars)
        shape = float(SHAPES[int(np.argmax(_likelihood(failures, usual)))])
        cell = cell * ((shape + failures) / (shape + usual))[watched.car]
        for each, (code, prior) in enumerate(zip(codes, PRIOR_FAILURES, strict=True)):
            seen = _summed(code, watched.failures, sizes[each])
            # the factor is drawn to 1, not to what it was in the round before
            alone = _summed(code, cell, sizes[each]) / factors[each]
            better = (seen + prior) / (alone + prior)
            cell = cell * (better / factors[each])[code]
            factors[each] = better
        rate *= total / max(float(cell.sum()), LEAST)
    year, since = (_summed(codes[each], watched.failures, sizes[each]) for each in (0, 2))
    chance = np.stack([_likelihood(failures, usual * level) + total * np.log(level) for level in LEVELS], axis=1)
    chance = np.exp(chance - chance.max())
    chance /= chance.sum()
    return History(rate, factors[0], factors[1], factors[2], (year, since), chance, failures, usual)


def _summed(code: Ints, weight: Floats, size: int) -> Floats:
    return np.asarray(np.bincount(code, weights=weight, minlength=size), dtype=np.float64)


def _likelihood(failures: Floats, usual: Floats) -> Floats:
    """Return the log likelihood of each shape, negative binomial; none is surer than everything that was seen."""
    k = SHAPES[:, None]
    logs = special.gammaln(k + failures) - special.gammaln(k) + k * np.log(k) - (k + failures) * np.log(k + usual)
    return np.where(max(1.0, float(failures.sum())) >= SHAPES, logs.sum(axis=1), -np.inf)


def unmodified_draws(history: History, later: Watched, draws: int, rng: np.random.Generator) -> Floats:
    """Return draws of how many failures the cars of `later` would have had unmodified in that time, ``(draws,)``."""
    years, bands, cars = history.year.size, history.since.size, history.usual.size
    cell = (later.car * years + later.year) * bands + later.since
    usual = _summed(cell, history.of(later), cars * years * bands).reshape(cars, years * bands)
    here = np.flatnonzero(usual.sum(axis=1))
    drawn = rng.choice(history.chance.size, size=draws, p=history.chance.ravel())
    shape, level = SHAPES[drawn // LEVELS.size][:, None], LEVELS[drawn % LEVELS.size][:, None]
    theta = level * rng.gamma(shape + history.failures[here]) / (shape + level * history.usual[here])
    # how well the unmodified cars tell of each year and of each time since renewal
    known = [seen + prior for seen, prior in zip(history.seen, (PRIOR_FAILURES[0], PRIOR_FAILURES[2]), strict=True)]
    year, since = (rng.gamma(each, size=(draws, each.size)) / each for each in known)
    factor = (year[:, :, None] * since[:, None, :]).reshape(draws, years * bands)
    return np.asarray(((theta @ usual[here]) * factor).sum(axis=1), dtype=np.float64)
