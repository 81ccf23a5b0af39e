"""Curves, tests and means of spells a second time: loops over spells, exact fractions, no numpy.

A spell is ``(entry, exit, event)``, watched in ``(entry, exit]``.
"""

from fractions import Fraction
from math import sqrt


def failure_times(spells):
    return sorted({exit_ for _, exit_, event in spells if event})


def watched(spells, time):
    return [spell for spell in spells if spell[0] < time <= spell[1]]


def failed(spells, time):
    return sum(event for _, exit_, event in spells if exit_ == time)


def product_limit(spells):
    """Rows of time, at risk, events, censored until the next failure time, survival, standard error (None at 0)."""
    times, rows = failure_times(spells), []
    survival, greenwood = Fraction(1), Fraction(0)
    for place, time in enumerate(times):
        n, d = len(watched(spells, time)), failed(spells, time)
        survival *= 1 - Fraction(d, n)
        greenwood += Fraction(d, n * (n - d)) if n > d else 0
        censored = sum(
            not e and time <= x and not any(time < later <= x for later in times[place:]) for _, x, e in spells
        )
        error = float(survival) * sqrt(greenwood) if survival else None
        rows.append((time, n, d, censored, float(survival), error))
    return rows


def cumulative_hazard(spells):
    """Rows of time, at risk, events, hazard, standard error."""
    rows, hazard, variance = [], Fraction(0), Fraction(0)
    for time in failure_times(spells):
        n, d = len(watched(spells, time)), failed(spells, time)
        hazard += Fraction(d, n)
        variance += Fraction(d, n * n)
        rows.append((time, n, d, float(hazard), sqrt(variance)))
    return rows


def restricted_mean(spells, horizon):
    """Mean and standard error up to a horizon, day by day; None where the curve is not known that far."""
    rows = product_limit(spells)
    survival_on = dict.fromkeys(range(horizon), 1.0)
    for time, *_, survival, _ in rows:
        for day in range(time, horizon):
            survival_on[day] = survival
    mean, variance = sum(survival_on.values()), 0.0
    for time, n, d, *_ in rows:
        if time <= horizon and n > d:
            variance += sum(survival_on[day] for day in range(time, horizon)) ** 2 * d / (n * (n - d))
    empty = [time for time, *_, survival, _ in rows if survival == 0 and time < horizon]
    longest = max(exit_ for _, exit_, _ in spells)
    known = longest == empty[0] if empty else longest >= horizon
    anything = any(time <= horizon for time, *_ in rows)
    return (mean if known else None), (sqrt(variance) if known and anything else None)


def log_rank(groups, weight):
    """Chi-square of groups of spells by exact elimination, and how many degrees it has."""
    pooled = [spell for spells in groups for spell in spells]
    size = len(groups)
    off, spread = [Fraction(0)] * size, [[Fraction(0)] * size for _ in range(size)]
    for time in failure_times(pooled):
        n, d = len(watched(pooled, time)), failed(pooled, time)
        each = [len(watched(spells, time)) for spells in groups]
        w = weight(pooled, time)
        for i in range(size):
            off[i] += w * (failed(groups[i], time) - Fraction(d * each[i], n))
            for j in range(size):
                if n > 1:
                    both = (i == j) - Fraction(each[j], n)
                    spread[i][j] += w * w * Fraction(d * (n - d), n - 1) * Fraction(each[i], n) * both
    return quadratic_form(spread, off)


def quadratic_form(matrix, vector):
    """Solve matrix x = vector as far as it has independent rows; return vector times x, and the rank."""
    rows = [[*row, value] for row, value in zip(matrix, vector, strict=True)]
    rank, pivots = 0, []
    for column in range(len(vector)):
        pivot = next((r for r in range(rank, len(rows)) if rows[r][column] != 0), None)
        if pivot is None:
            continue
        rows[rank], rows[pivot] = rows[pivot], rows[rank]
        rows[rank] = [value / rows[rank][column] for value in rows[rank]]
        for r in range(len(rows)):
            if r != rank:
                rows[r] = [a - rows[r][column] * b for a, b in zip(rows[r], rows[rank], strict=True)]
        pivots.append(column)
        rank += 1
    return float(sum(rows[r][-1] * vector[column] for r, column in enumerate(pivots))), rank


def pooled_at_risk(pooled, time):
    """Gehan's weight."""
    return len(watched(pooled, time))


def evenly(*_):
    """The plain log-rank weight."""
    return 1


def still_working(pooled, time):
    """Peto and Peto's weight, up to and including the time."""
    share = Fraction(1)
    for earlier in failure_times(pooled):
        if earlier <= time:
            share *= 1 - Fraction(failed(pooled, earlier), len(watched(pooled, earlier)) + 1)
    return share


def incidence(spells, cause):
    """Rows of time, incidence and standard error of one cause; spells are ``(entry, exit, cause or None)``.

    The variance is summed over failure times u for each t anew: what a change at u does to the incidence at t.
    """
    plain = [(entry, exit_, int(why is not None)) for entry, exit_, why in spells]
    steps, survival, reached = [], Fraction(1), Fraction(0)
    for time in failure_times(plain):
        n, d = len(watched(plain, time)), failed(plain, time)
        own = sum(why == cause and exit_ == time for _, exit_, why in spells)
        reached += survival * Fraction(own, n)
        steps.append((time, n, d, own, survival, reached))
        survival *= 1 - Fraction(d, n)
    rows = []
    for time, *_, at_time in steps:
        variance = Fraction(0)
        for u, n, d, own, before, by_then in steps:
            if u <= time:
                # multinomial: own and other failures of the n at risk, each with its effect on the incidence at `time`
                lost = (at_time - by_then) / (1 - Fraction(d, n)) if n > d else Fraction(0)
                effects = [(own, before - lost), (d - own, -lost), (n - d, Fraction(0))]
                mean = sum(count * effect for count, effect in effects) / n
                variance += sum(count * (effect - mean) ** 2 for count, effect in effects) / (n * n)
        rows.append((time, float(at_time), sqrt(variance)))
    return rows
