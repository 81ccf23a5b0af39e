"""The order of checks a second way: plain Python, one complaint at a time, all orders tried."""

from __future__ import annotations

from itertools import permutations

WHOLE = 2520


def chances(jobs, complaint, series, borrowed, unseen, fits):
    """Chance of each cause by name; `jobs`: complaint, series, component, weight."""
    own, family = {}, {}
    for said, where, component, weight in jobs:
        if said == complaint:
            counts = own if where == series else family
            counts[component] = counts.get(component, 0) + weight / WHOLE
    family = {name: count for name, count in family.items() if name in own or name in fits}
    whole = sum(family.values())
    names = sorted({*own, *family})
    imagined = {
        name: own.get(name, 0) + (min(borrowed, whole) * family.get(name, 0) / whole if whole else 0) for name in names
    }
    total = sum(imagined.values()) + unseen
    return {name: imagined[name] / total for name in names}


def spent(order, gain, minutes, cover, opening):
    """Mean minutes of one order."""
    left, total, opened = 1.0, 0.0, set()
    for name in order:
        if cover.get(name) and cover[name] not in opened:
            opened.add(cover[name])
            total += left * opening[cover[name]]
        total += left * minutes[name]
        left -= gain[name]
    return total


def best_order(gain, minutes, cover, opening, critical):
    """The best of all orders that begin with the safety-critical checks by name, and its mean minutes."""
    first = sorted(name for name in gain if name in critical)
    rest = sorted(name for name in gain if name not in critical)
    orders = [(*first, *each) for each in permutations(rest)]
    best = min(orders, key=lambda order: spent(order, gain, minutes, cover, opening))
    return best, spent(best, gain, minutes, cover, opening)
