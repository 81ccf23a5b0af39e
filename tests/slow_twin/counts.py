"""Exact limits, p-values, shrinkage and adjustment a second time: sums of probabilities and plain searches."""

from math import comb, exp, fsum, lgamma, log

from tests.slow_twin.recurrent import crossing, peak


def poisson(count, mean):
    return exp(count * log(mean) - mean - lgamma(count + 1))


def poisson_limits(count, tail):
    """Means under which so few, or so many, would be seen with probability `tail` only."""
    upper = crossing(lambda m: fsum(poisson(k, m) for k in range(count + 1)) - tail, 1e-9, 10 * count + 50)
    if count == 0:
        return 0.0, upper
    return crossing(lambda m: 1 - fsum(poisson(k, m) for k in range(count)) - tail, 1e-9, count), upper


def binomial(successes, trials, share):
    return comb(trials, successes) * share**successes * (1 - share) ** (trials - successes)


def binomial_limits(successes, trials, tail):
    def at_most(share):
        return fsum(binomial(k, trials, share) for k in range(successes + 1)) - tail

    def at_least(share):
        return fsum(binomial(k, trials, share) for k in range(successes, trials + 1)) - tail

    lower = crossing(at_least, 0, 1) if successes else 0.0
    return lower, crossing(at_most, 0, 1) if successes < trials else 1.0


def no_more_probable(probabilities, seen):
    """Sum of the probabilities that are not above that of the one seen."""
    return fsum(p for p in probabilities if p <= probabilities[seen] * (1 + 1e-7))


def negative_binomial(counts, means, shape, centre):
    return fsum(
        lgamma(shape + o)
        - lgamma(shape)
        - lgamma(o + 1)
        + shape * log(shape / (shape + centre * e))
        + (o * log(centre * e / (shape + centre * e)) if o else 0)
        for o, e in zip(counts, means, strict=True)
    )


def greatest_likelihood(counts, means):
    """The greatest log likelihood of any prior no surer than all events: grid of shapes, thirds for the centre."""
    total = sum(counts)
    ratios = [o / e for o, e in zip(counts, means, strict=True)]

    def best(log_shape):
        def given(log_centre):
            return negative_binomial(counts, means, exp(log_shape), exp(log_centre))

        return given(peak(given, log(max(min(ratios), 1e-9)) - 1, log(max(ratios)) + 1))

    low, high = log(1e-3), log(total)
    return max(best(low + (high - low) * step / 60) for step in range(61))


def benjamini_hochberg(p):
    m = len(p)
    rank = {index: place for place, index in enumerate(sorted(range(m), key=lambda i: p[i]), start=1)}
    return [min(1, min(p[j] * m / rank[j] for j in range(m) if rank[j] >= rank[i])) for i in range(m)]


def holm(p):
    m = len(p)
    rank = {index: place for place, index in enumerate(sorted(range(m), key=lambda i: p[i]), start=1)}
    return [min(1, max(p[j] * (m - rank[j] + 1) for j in range(m) if rank[j] <= rank[i])) for i in range(m)]
