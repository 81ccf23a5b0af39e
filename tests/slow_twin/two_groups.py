"""Two groups of cars at one age, failure by failure, in plain Python."""

from math import inf


def mantel_haenszel(cars):
    """Return the ratio of b over a, and each car's failures less what all cars together would expect of it.

    `cars`: (begin, finish, whether it is of b, ages of its failures).
    """
    up = down = 0.0
    value = [0.0] * len(cars)
    for time in sorted({at for *_, failed in cars for at in failed}):
        watched = [k for k, (begin, finish, *_) in enumerate(cars) if begin < time <= finish]
        in_b = sum(cars[k][2] for k in watched)
        failures = sum(failed.count(time) for *_, failed in cars)
        for k in watched:
            value[k] -= failures / len(watched)
        for k, (_, _, second, failed) in enumerate(cars):
            value[k] += failed.count(time)
            if second:
                up += failed.count(time) * (len(watched) - in_b) / len(watched)
            else:
                down += failed.count(time) * in_b / len(watched)
    return up / down if down else inf, value
