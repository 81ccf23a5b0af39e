"""The posterior of a Weibull law once more: unit by unit, on a dense grid, its points read off by sorting."""

import math

import numpy as np
from scipy.special import gamma, gammaincc

CELLS = 49
HALF = math.log(12 / 0.25) / (CELLS - 1) / 2
EDGES = np.linspace(math.log(0.25) - HALF, math.log(12.0) + HALF, 6 * CELLS + 1)
SHAPES = np.exp((EDGES[1:] + EDGES[:-1]) / 2)
"""Six shapes within each cell of the grid, whose first and last cells reach half a step beyond 0.25 and 12."""

LOG_MEAN, SPREAD = math.log(1.5), 1.0
"""Prior of the log shape."""


def log_likelihood(units, shape, life):
    """Sum over units of known age (entry, exit, event, exit_lower or None)."""
    total = np.zeros(np.broadcast_shapes(np.shape(shape), np.shape(life)))
    for entry, leave, event, lower in units:
        until = leave if lower is None else lower
        total += (entry / life) ** shape - (until / life) ** shape
        if event and lower is None:
            total += np.log(shape / life) + (shape - 1) * np.log(leave / life)
        elif event:
            total += np.log(-np.expm1((lower / life) ** shape - (leave / life) ** shape))
    return total


def equilibrium_log_likelihood(units, shape, life):
    """Sum over units of unknown age in cars of unknown age: the residual law of endless renewals."""

    def beyond(time):
        return gammaincc(1 / shape, (time / life) ** shape)

    total = 0.0
    for entry, leave, event, lower in units:
        if not event:
            likelihood = beyond(leave)
        elif lower is None:
            likelihood = np.exp(-((leave / life) ** shape)) / (life * gamma(1 + 1 / shape))
        else:
            likelihood = beyond(lower) - beyond(leave)
        total = total + np.log(np.maximum(likelihood, 1e-280)) - np.log(np.maximum(beyond(entry), 1e-280))
    return total


def posterior_points(units, value, shares, unknown=()):
    """Points of ``value(shape, life)`` where the prior is normal in log shape and flat in log median life."""
    longest = max(leave for _, leave, _, _ in [*units, *unknown])
    median = longest * np.exp(np.linspace(-4.0, 8.0, 1201))
    shape, median = SHAPES[:, None], median[None, :]
    life = median * math.log(2) ** (-1 / shape)
    weight = log_likelihood(units, shape, life) + equilibrium_log_likelihood(unknown, shape, life)
    weight = weight - 0.5 * ((np.log(shape) - LOG_MEAN) / SPREAD) ** 2
    weight = np.exp(weight - weight.max()).ravel()
    values = np.broadcast_to(value(shape, life), (SHAPES.size, median.size)).ravel()
    order = np.argsort(values)
    below = np.cumsum(weight[order]) / weight.sum()
    return np.interp(shares, below, values[order])


def bound_point(units, share):
    """The point of life50 without failure: per shape the rate is Gamma(1, W); shapes mixed over the prior."""
    prior = np.exp(-0.5 * ((np.log(SHAPES) - LOG_MEAN) / SPREAD) ** 2)
    exposure = np.array([sum(leave**b - entry**b for entry, leave, _, _ in units) for b in SHAPES])
    low, high = 1e-9, 1e9
    for _ in range(200):
        middle = math.sqrt(low * high)
        below = (prior * np.exp(-math.log(2) * exposure * middle**-SHAPES)).sum() / prior.sum()
        low, high = (middle, high) if below < share else (low, middle)
    return low
