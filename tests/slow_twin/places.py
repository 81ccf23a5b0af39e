"""Faults moved round the places of a car, visit by visit, in plain Python."""

from __future__ import annotations

from collections import Counter


def counted(rows, above, shift):
    """Return visits per (series, place) after moving each car's faults on.

    `rows`: (car, visit, series, lowest place in the ring, how many levels its record names); `above`: for each lowest
    place the places it is part of, top first, itself last; `shift`: places to move on, by car.
    """
    seen = set()
    for car, visit, series, lowest, levels in rows:
        for place in above[(lowest + shift[car]) % len(above)][:levels]:
            seen.add((visit, series, place))
            seen.add((visit, "all", place))
    return Counter((series, place) for _, series, place in seen)
