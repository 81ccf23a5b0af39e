"""What chance gives of returns, once more in plain Python: one repair and one law after the other (rule 37)."""

from __future__ import annotations

import math

from scipy.integrate import quad


def new_or_aged(shape, life, age, days):
    """Chance that a unit of that age fails within so many days."""
    return 1 - math.exp((age / life) ** shape - ((age + days) / life) ** shape)


def met_at_random(shape, life, days):
    """The same of a unit whose age is not known: it was met at a random time of an endless series of units."""
    mean = life * math.gamma(1 + 1 / shape)
    return quad(lambda u: math.exp(-((u / life) ** shape)), 0, days)[0] / mean


def expected(repairs, laws):
    """Return the number of returns expected by component, action and origin, under each law of the component.

    `laws`: by component, a list of (shape, life). Units of unknown age must be such that nothing is known of them.
    """
    found = {}
    for repair in repairs:
        cell = (repair["component"], repair["action"], repair["part_origin"])
        sums = found.setdefault(cell, [0.0] * len(laws[repair["component"]]))
        for number, (shape, life) in enumerate(laws[repair["component"]]):
            days = repair["days_watched"]
            random = met_at_random(shape, life, days)
            own = new_or_aged(shape, life, repair["age"], days) if repair["age_known"] else random
            share = 1.0 if repair["is_blank"] else repair["blank_share"] or 0.0
            seen = 1.0 if repair["failure_share"] is None else repair["failure_share"]
            sums[number] += seen * (own + share * (repair["positions"] - 1) * random)
    return found
