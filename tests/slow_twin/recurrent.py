"""Recurring failures a second time: loops over units and times, plain searches, no numpy."""

from math import exp, fsum, log, sqrt


def mean_cumulative(rows):
    """Rows of time, at risk, events, mean count and robust error; rows are ``(unit, entry, exit, count)``.

    Every unit's influence is kept and moved at every failure time.
    """
    mean, influence, out = 0.0, {unit: 0.0 for unit, *_ in rows}, []
    for time in sorted({exit_ for _, _, exit_, count in rows if count}):
        seen = [row for row in rows if row[1] < time <= row[2]]
        failures = sum(count for _, _, exit_, count in rows if exit_ == time)
        mean += failures / len(seen)
        for unit, _, exit_, count in seen:
            influence[unit] += ((count if exit_ == time else 0) - failures / len(seen)) / len(seen)
        out.append((time, len(seen), failures, mean, sqrt(fsum(value**2 for value in influence.values()))))
    return out


def placed(events, windows):
    """Each event with the window of its system that it lies in."""
    return [
        (time, start, end)
        for system, time in events
        for owner, start, end in windows
        if owner == system and start < time <= end
    ]


def laplace(events, windows):
    inside = placed(events, windows)
    return sum(t - (s + e) / 2 for t, s, e in inside) / sqrt(sum((e - s) ** 2 for _, s, e in inside) / 12)


def handbook(events, windows):
    return 2 * fsum(log((e - s) / (t - s)) for t, s, e in placed(events, windows))


def power_law_log_likelihood(events, windows, log_intensity, shape):
    """Log likelihood of a rate intensity * shape * time^(shape - 1), with no shortcut for the best intensity."""
    expected = exp(log_intensity) * fsum(e**shape - s**shape for _, s, e in windows)
    return fsum(log_intensity + log(shape) + (shape - 1) * log(t) for _, t in events) - expected


def best_intensity(events, windows, shape):
    return log(len(events) / fsum(e**shape - s**shape for _, s, e in windows))


def peak(function, low, high, steps=70):
    """Where a function with one top is greatest, by thirds."""
    for _ in range(steps):
        left, right = low + (high - low) / 3, high - (high - low) / 3
        low, high = (left, high) if function(left) < function(right) else (low, right)
    return (low + high) / 2


def crossing(function, low, high, steps=60):
    """Where a function changes sign, by halving."""
    rising = function(high) > 0
    for _ in range(steps):
        middle = (low + high) / 2
        low, high = (low, middle) if (function(middle) > 0) == rising else (middle, high)
    return (low + high) / 2


def power_law(events, windows, drop):
    """Shape and log intensity of greatest likelihood, with what lies within `drop` of it for either."""

    def by_shape(log_shape):
        shape = exp(log_shape)
        return power_law_log_likelihood(events, windows, best_intensity(events, windows, shape), shape)

    top = peak(by_shape, -4, 4)
    shape = exp(top)
    least = by_shape(top) - drop
    shapes = [exp(crossing(lambda x: by_shape(x) - least, top, edge)) for edge in (-6, 5)]

    def by_intensity(log_intensity):
        def given(log_shape):
            return power_law_log_likelihood(events, windows, log_intensity, exp(log_shape))

        return given(peak(given, -6, 5))

    centre = best_intensity(events, windows, shape)
    intensities = [crossing(lambda x: by_intensity(x) - least, centre, centre + reach) for reach in (-300, 60)]
    return shape, centre, shapes, intensities
