"""The forecast of one who knows the laws, the ages, who is here and the rates of a simulated fleet."""

import numpy as np

from tests.truth.stock_worlds import COMPONENTS, HIDDEN, HORIZONS, WORSE, WORSE_BY, WORSE_FROM, YEAR, joining_rate


def best_known(rng, made, number, origin, draws=250):
    """Parts needed within each horizon, drawn by one who knows the laws, the ages, who is here and the rates."""
    component = COMPONENTS[number]
    here = np.flatnonzero((made.joins <= origin) & (made.leaves > origin))
    last = made.fitted_before[number].copy()
    for car, which, position, time, *_ in made.events:
        if which == number and time <= origin:
            last[car, position] = max(last[car, position], time)
    last = last[here]
    scale = np.repeat(made.scales(component)[here][:, None], component.positions, axis=1)
    if made.world == "law changes" and number in WORSE:
        scale = np.where(last > WORSE_FROM, scale * WORSE_BY, scale)
    horizons = np.array(HORIZONS) / YEAR
    stays = np.repeat(
        rng.exponential(1, (draws, here.size, 1)) * made.stay[here][None, :, None], component.positions, 2
    )
    age = np.broadcast_to(origin - last, stays.shape)
    time, alive, total = np.zeros(stays.shape), np.ones(stays.shape, bool), np.zeros((draws, 3))
    for _ in range(3):
        fails = (
            scale * ((age / scale) ** component.shape + rng.exponential(1, age.shape)) ** (1 / component.shape) - age
        )
        planned = np.maximum(1 - age, 0) + rng.exponential(1 / component.preventive, age.shape)
        time = time + np.minimum(fails, planned)
        alive &= (time <= stays) & (time <= horizons[-1])
        parts = 1 + (rng.random(time.shape) < component.pairs)
        for row, horizon in enumerate(horizons):
            total[:, row] += ((alive & (time <= horizon)) * parts).sum(axis=(1, 2))
        age = np.zeros(age.shape)
    return total + _from_outside(rng, made, component, origin, draws)


def _from_outside(rng, made, component, origin, draws):
    """Parts for cars that join and over the counter."""
    total = np.zeros((draws, len(HORIZONS)))
    sold = component.sold * component.rate * component.positions * made.size * (made.size % 2 == 0)
    for row, horizon in enumerate(np.array(HORIZONS) / YEAR):
        joiners = rng.poisson(joining_rate(made.world, made.size, np.array([origin + horizon / 2]))[0] * horizon, draws)
        units = joiners * component.positions
        repairs = rng.binomial(units, min(HIDDEN * component.rate, 1.0))
        repairs = repairs + rng.poisson(units * horizon / 2 * (component.rate + component.preventive) * 0.9)
        total[:, row] += repairs + rng.binomial(repairs, component.pairs) + rng.poisson(sold * horizon, draws)
    return total
