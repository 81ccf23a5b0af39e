"""The law on a mixture of age and distance once more: unit by unit, a plain search over the shape, no interpolation."""

from math import exp, inf, log


def mixed(age, distance, theta):
    return age ** (1 - theta) * distance**theta


def log_likelihood(units, theta, shape, life):
    """Sum over units: dicts of age and distance, each (entry, exit, exit_lower or None), event, slope."""
    total = 0.0
    for unit in units:
        start, end, lower = (
            None if age is None else mixed(age, distance, theta)
            for age, distance in zip(unit["age"], unit["distance"], strict=True)
        )
        total += (start / life) ** shape
        if not unit["event"]:
            total -= (end / life) ** shape
        elif lower is None:
            age, distance = unit["age"][1], unit["distance"][1]
            change = end * ((1 - theta) / age + theta * unit["slope"] / distance)
            total += log(shape / life) + (shape - 1) * log(end / life) - (end / life) ** shape + log(change)
        else:
            total += log(exp(-((lower / life) ** shape)) - exp(-((end / life) ** shape)))
    return total


def highest(units, theta):
    """Golden section over log life within golden section over log shape."""
    middle = sum(log(mixed(u["age"][1], u["distance"][1], theta)) for u in units) / len(units)

    def best_life(log_shape):
        return golden(lambda x: log_likelihood(units, theta, exp(log_shape), exp(x)), middle - 2, middle + 6)

    return golden(best_life, log(0.2), log(15.0))


def golden(f, low, high, steps=45):
    share = (5**0.5 - 1) / 2
    best = -inf
    for _ in range(steps):
        left, right = high - share * (high - low), low + share * (high - low)
        f_left, f_right = safely(f, left), safely(f, right)
        best = max(best, f_left, f_right)
        low, high = (low, right) if f_left > f_right else (left, high)
    return best


def safely(f, x):
    try:
        return f(x)
    except (OverflowError, ValueError):
        return -inf
