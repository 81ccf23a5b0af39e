"""Two groups of cars at one age, in plain Python; a car is (begin, finish, whether of b, ages of failure)."""


def expected_less(cars, ratio):
    """Return each car's failures less those expected of it, at ages at which cars of both groups were watched."""
    value = [0.0] * len(cars)
    for time in sorted({at for *_, failed in cars for at in failed}):
        watched = [k for k, (begin, finish, *_) in enumerate(cars) if begin < time <= finish]
        in_b = sum(cars[k][2] for k in watched)
        if not 0 < in_b < len(watched):
            continue
        failures = sum(failed.count(time) for *_, failed in cars)
        for k in watched:
            value[k] -= failures * (ratio if cars[k][2] else 1) / (len(watched) - in_b + ratio * in_b)
        for k, (*_, failed) in enumerate(cars):
            value[k] += failed.count(time)
    return value


def distance(cars, dealt):
    """Return how many standard deviations two groups lie apart: values of `cars`, groups of `dealt`."""
    value = expected_less(cars, 1.0)
    sides = [[v for v, car in zip(value, dealt, strict=True) if car[2] == second] for second in (False, True)]
    counts = [len(side) for side in sides]
    means = [sum(side) / len(side) for side in sides]
    squares = [sum((v - mean) ** 2 for v in side) for side, mean in zip(sides, means, strict=True)]
    weight = counts[0] * counts[1] / sum(counts)
    spread = sum(square / (n - 1) / n for square, n in zip(squares, counts, strict=True)) * weight**2
    failures = sum(len(failed) for *_, failed in cars)
    return sum(sides[1]) / max(spread, failures * counts[0] * counts[1] / sum(counts) ** 2) ** 0.5
