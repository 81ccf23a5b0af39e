"""Where faults show: every place equally often, but for the one planted hot spot."""

from __future__ import annotations

import math
from functools import cache
from typing import TYPE_CHECKING

import numpy as np

from sample_data.catalogue import candidate_places, components, scenario_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

HOT_PLACE = "rear left wheel arch"
HOT_SERIES = "S2"
HOT_FACTOR = 3.0
_HOT_GOAL, _BURST_GOAL = 3.6, 0.95
BURST_PLACE = "vent duct centre"
TYPICAL_KM_PER_YEAR = 2_900.0
PLANTED_RATES = {
    ("coil", ""): 0.03,
    ("trig", ""): 0.01,
    ("accumulator", ""): 0.76,
    ("wmot", ""): 1.18,
    ("vact", "S1"): 1.6,
    ("vact", "S2"): 1.15,
}
"""Faults of these, in shares of what their laws alone would bring: overrides, a campaign, returns, two compounds."""
_ROUNDS = 400


@cache
def points() -> tuple[str, ...]:
    """Return the places of the lowest level, in the order of the catalogue."""
    return tuple(row["location"] for row in scenario_rows("locations") if row["x"])


def typical_rate(code: str) -> float:
    """Return about how often a position of a component fails, per car-year of ordinary use."""
    law = components()[code].law
    if law is None:
        return 1e-6
    if law.scale == "age":
        return 1.0 / law.median_years
    if law.scale == "distance":
        return TYPICAL_KM_PER_YEAR / law.median_km
    return float((TYPICAL_KM_PER_YEAR / (law.median_years * law.median_km)) ** 0.5)


def place_rate(code: str, series: str) -> float:
    """Return about how often a position tells of a fault, per car-year of the archive, in one series.

    The reciprocal of the mean life, less what is renewed in passing; a few components differ by what is planted.
    """
    part = components()[code]
    law = part.law
    if law is None:
        return 1e-6
    mean = math.gamma(1.0 + 1.0 / law.shape) / math.log(2.0) ** (1.0 / law.shape)
    usual = typical_rate(code) / mean * {"age": 1.0, "distance": 1.2, "mixed": 0.98}[law.scale]
    planted = PLANTED_RATES.get((code, series), PLANTED_RATES.get((code, ""), 1.0))
    return float(usual * (1.0 - 0.15 * part.mate_share) * planted)


@cache
def place_weights(series: str) -> dict[tuple[str, str], tuple[tuple[str, ...], tuple[float, ...]]]:
    """Return, per component code and position, its places and their weights in one series.

    Without balancing, a place beside many short-lived parts would look like a hot spot of its own. Rows
    (positions, in proportion to their failure rate) and columns (places) are scaled in turn until all places
    are met equally often, the hot place of its series HOT_FACTOR times as often (the goal is a little higher, as
    not every place has enough parts beside it to reach its share).
    """
    keys = [key for key in candidate_places() if series in components()[key[0]].series]
    rates = np.array([place_rate(code, series) for code, _ in keys])
    columns = {place: number for number, place in enumerate(points())}
    weights = np.zeros((len(keys), len(columns)))
    for row, key in enumerate(keys):
        weights[row, [columns[place] for place in candidate_places()[key]]] = 1.0
    goal = np.ones(len(columns))
    goal[columns[BURST_PLACE]] = _BURST_GOAL
    if series == HOT_SERIES:
        goal[columns[HOT_PLACE]] = _HOT_GOAL
    balanced = _balance(weights, rates, goal * rates.sum() / goal.sum())
    return {
        key: (candidate_places()[key], tuple(float(balanced[row, columns[p]]) for p in candidate_places()[key]))
        for row, key in enumerate(keys)
    }


def _balance(
    weights: NDArray[np.float64], rates: NDArray[np.float64], goal: NDArray[np.float64]
) -> NDArray[np.float64]:
    for _ in range(_ROUNDS):
        weights = weights / weights.sum(axis=1, keepdims=True)
        seen = rates @ weights
        weights = weights * (goal / np.maximum(seen, 1e-12))
    result: NDArray[np.float64] = weights / weights.sum(axis=1, keepdims=True)
    return result


def expected_share(series: str) -> dict[str, float]:
    """Return the share of a series' faults that each place is expected to get, in shares of an even spread."""
    shares = dict.fromkeys(points(), 0.0)
    weights = place_weights(series)
    for (code, _), (places, parts) in weights.items():
        for place, part in zip(places, parts, strict=True):
            shares[place] += place_rate(code, series) * part
    even = sum(shares.values()) / len(shares)
    return {place: share / even for place, share in shares.items()}
