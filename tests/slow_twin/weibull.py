"""Weibull fits, residual lives, fit and replacement a second time: loops over units, plain searches, no numpy.

A unit is ``(entry, exit, event, lower)``; a silent fault lies in ``(lower, exit]``, lower is None for all others.
"""

from functools import cache
from math import exp, expm1, fsum, inf, log, sqrt

from tests.slow_twin.recurrent import crossing, peak

LEAST_SHAPE, MOST_SHAPE = 0.2, 15.0

STEPS = 38
"""Thirds taken off in a search inside a search; more would only cost time."""


def log_likelihood(units, shape, life):
    total = 0.0
    for entry, leave, event, lower in units:
        until = leave if lower is None else lower
        total += (entry / life) ** shape - (until / life) ** shape
        if event and lower is None:
            total += log(shape / life) + (shape - 1) * log(leave / life)
        elif event:
            width = (leave / life) ** shape - (lower / life) ** shape
            total += log(-expm1(-width)) if width > 0 else -inf
    return total


def reach(units):
    """Logs of life between which any estimate of these units lies."""
    longest = max(leave for _, leave, _, _ in units)
    return log(longest) - 12, log(longest) + 25


def best_life(units, shape):
    return exp(peak(lambda log_life: log_likelihood(units, shape, exp(log_life)), *reach(units), STEPS + 14))


def profile(units, shape):
    return log_likelihood(units, shape, best_life(units, shape))


def fit(units):
    """Shape, life and log likelihood at the top."""
    shape = exp(peak(lambda log_shape: profile(units, exp(log_shape)), log(LEAST_SHAPE), log(MOST_SHAPE), STEPS))
    return shape, best_life(units, shape), profile(units, shape)


def shape_limits(units, shape, floor):
    """Shapes at which the profile passes `floor`; None where it does not inside the bracket."""
    edges = (log(LEAST_SHAPE), log(MOST_SHAPE))
    return [_passes(lambda log_shape: profile(units, exp(log_shape)) - floor, log(shape), edge) for edge in edges]


def quantile_limits(units, failed, estimate, floor):
    """Ages by which a share has failed at which the best likelihood over all shapes passes `floor`."""
    hazard = -log(1 - failed)

    def held(log_age):
        def given(log_shape):
            shape = exp(log_shape)
            return log_likelihood(units, shape, exp(log_age - log(hazard) / shape))

        return given(peak(given, log(LEAST_SHAPE), log(MOST_SHAPE), STEPS))

    return [
        _passes(lambda log_age: held(log_age) - floor, log(estimate), log(estimate) + far, halvings=True)
        for far in (-8, 8)
    ]


def _passes(function, inside, edge, *, halvings=False):
    if function(edge) > 0:
        return None
    if halvings:  # the likelihood of a life may rise again far out: walk to the first fall
        step = (edge - inside) / 64
        edge = inside + step
        while function(edge) > 0:
            edge += step
        inside = edge - step
    return exp(crossing(function, inside, edge, 24))


def anderson_darling(lives):
    """A squared over the fitted law, adjusted, and the observed level of MIL-HDBK-17-1F, section 8.3.4.2."""
    shape, life, _ = fit([(0, t, 1, None) for t in lives])
    n, lives = len(lives), sorted(lives)
    hazard = [(t / life) ** shape for t in lives]
    total = fsum((2 * i + 1) * (log(-expm1(-hazard[i])) - hazard[n - 1 - i]) for i in range(n))
    statistic = -n - total / n
    adjusted = statistic * (1 + 0.2 / sqrt(n))
    return statistic, adjusted, 1 / (1 + exp(-0.10 + 1.24 * log(adjusted) + 4.48 * adjusted))


def replacement(shape, life, ratio):
    """Age of least cost and its cost rate: survival added up strip by strip."""
    strips = 4000
    width = 4 * life / strips
    survival = [exp(-((i * width / life) ** shape)) for i in range(strips + 1)]
    best, watched = (inf, inf), 0.0
    for i in range(1, strips + 1):
        watched += width * (survival[i - 1] + survival[i]) / 2
        best = min(best, ((survival[i] + ratio * (1 - survival[i])) / watched, i * width))
    return best[1], best[0]


CELL = 0.01
"""Cell of the renewal equation, in lives."""


@cache
def renewals(shape, cells):
    """Expected renewals in each cell of a position that is renewed whenever its unit fails, life 1."""
    falls = [exp(-((i * CELL) ** shape)) - exp(-(((i + 1) * CELL) ** shape)) for i in range(cells)]
    # a sum of two lives falls into the cell of the sum or the next, half each
    of_two = [0.5 * (falls[i] + (falls[i - 1] if i else 0.0)) for i in range(cells)]
    mass = []
    for j in range(cells):
        earlier = fsum(mass[i] * of_two[j - i] for i in range(j))
        mass.append((falls[j] + earlier) / (1 - of_two[0]))
    return mass


def residual(shape, life, car_age, waited):
    """Probability that the unit found in a car of an age still works after a wait."""
    a, u = car_age / life, waited / life
    cells = round(a / CELL)
    mass = renewals(shape, cells) if cells else []
    later = fsum(m * exp(-((a - (j + 0.5) * CELL + u) ** shape)) for j, m in enumerate(mass))
    return exp(-((a + u) ** shape)) + later


def residual_log_likelihood(units, shape, life):
    """Units are (car age, waited, event)."""
    total = 0.0
    for car_age, waited, event in units:
        if event:
            step = 0.01 * waited
            falls = residual(shape, life, car_age, waited - step) - residual(shape, life, car_age, waited + step)
            total += log(falls / (2 * step))
        else:
            total += log(residual(shape, life, car_age, waited))
    return total
