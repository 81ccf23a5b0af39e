"""Pairs of faults in plain Python: one car and two components at a time, by the words of rule 37."""

from itertools import combinations, combinations_with_replacement, permutations

from analytics.recurrence.fault_pairs import (
    COUNTED,
    FOUND,
    JOINING,
    LATER,
    NOT_NEAREST,
    SAME_VISIT,
    TOGETHER,
)


def pairs_of_car(visits, window):
    """Return ``{(first, then): fate or days}`` of the pairs of faults of one car; a fault is (visit number, component).

    `visits`: by time, dictionaries with `opened`, `closed`, `faults` (component: failure, found or joining) and
    `renewed` (components).
    """
    fates = {}
    for a, b in combinations(sorted({name for visit in visits for name in visit["faults"]}), 2):
        fates |= _of_two(visits, a, b, window)
    return fates


def _of_two(visits, a, b, window):
    fates, able = {}, []
    for m, n in combinations_with_replacement(range(len(visits)), 2):
        for first, then in permutations((a, b)):
            here, there = visits[m]["faults"].get(first), visits[n]["faults"].get(then)
            if here is None or there is None or (m == n and first != a):
                continue
            days = visits[n]["opened"] - visits[m]["closed"]
            if m < n and days > window:
                continue
            fate = _spoilt(visits, (m, first, here), (n, then, there))
            fates[(m, first), (n, then)] = fate
            if fate is None:
                able.append((days, m, n, first, then))
    near = [pair for pair in able if all(_is_nearest(pair, able, end) for end in (0, 1))]
    counted = min(near, key=lambda pair: pair[1:3], default=None)
    for pair in able:
        days, m, n, first, then = pair
        fates[(m, first), (n, then)] = (COUNTED, days) if pair == counted else LATER if pair in near else NOT_NEAREST
    return fates


def _spoilt(visits, first, then):
    (m, a, here), (n, b, there) = first, then
    if m == n:
        return SAME_VISIT
    if "found" in (here, there):
        return FOUND
    if "joining" in (here, there):
        return JOINING
    beside = (
        b in visits[m]["faults"] or b in visits[m]["renewed"] or a in visits[n]["faults"] or a in visits[n]["renewed"]
    )
    return TOGETHER if beside else None


def _is_nearest(pair, able, end):
    """Whether, of all able pairs that a fault is in, this one has the fewest days, and of equals begins first."""
    _, m, n, first, then = pair
    fault = ((m, first), (n, then))[end]
    rivals = [each for each in able if fault in ((each[1], each[3]), (each[2], each[4]))]
    return pair == min(rivals, key=lambda each: each[:3])


def followed(visits, window, first, then):
    """Count failures of `first` that a failure of `then` followed on a later visit within the window."""
    count = 0
    for m, visit in enumerate(visits):
        if visit["faults"].get(first) != "failure" or then in visit["faults"] or then in visit["renewed"]:
            continue
        later = visits[m + 1 :]
        count += any(
            each["faults"].get(then) == "failure" and each["opened"] - visit["closed"] <= window for each in later
        )
    return count
