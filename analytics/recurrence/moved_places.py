"""What chance alone gives the places of a car: every car's faults moved round to other places, as they lie."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.seeds import generator
from analytics.recurrence.excess import excess

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.parameters import Parameters

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

CELLS = 4_000_000
"""Faults times draws held at once."""


@dataclass(frozen=True, slots=True)
class Ring:
    """All places, the lowest ones in a ring in the order of the tree.

    Attributes
    ----------
    names
        Every place, ``(places,)``.
    above
        ``(levels, lowest)``: number of the place of each level that a lowest place is part of, -1 where none.
    share
        ``(places,)``: share of the lowest places of its level that are part of a place.
    level
        ``(places,)``, 0 = top.
    """

    names: list[str]
    above: Ints
    share: Floats
    level: Ints


@dataclass(frozen=True, slots=True)
class Hits:
    """A row per visit and place named, those of a visit together.

    `car`, `visit` and `series` are numbers; `lowest`: place in the ring; `levels`: how many levels its place names.
    """

    car: Ints
    visit: Ints
    series: Ints
    lowest: Ints
    levels: Ints


def ring_of(tree: pl.DataFrame) -> Ring:
    """Return the places of a tree (`location`, `ancestor`, `depth` of the ancestor) in a ring."""
    names = tree.select(pl.col("ancestor").alias("location"), level=pl.col("depth") - 1).unique()
    names = names.sort("level", "location")
    number = names.with_row_index("place").select(pl.col("location").alias("ancestor"), pl.col("place").cast(pl.Int64))
    wide = tree.join(number, on="ancestor", how="left")
    parents = tree.filter(pl.col("location") != pl.col("ancestor"))["ancestor"].unique()
    paths = (
        wide.filter(~pl.col("location").is_in(parents.to_list()))
        .sort("location", "depth")
        .group_by("location", maintain_order=True)
        .agg(path=pl.col("ancestor"), places="place")
        .sort("path")
    )
    levels = int(names["level"].to_numpy().max()) + 1
    above = np.full((levels, paths.height), -1, dtype=np.int64)
    for lowest, places in enumerate(paths["places"].to_list()):
        above[: len(places), lowest] = places
    level = names["level"].to_numpy().astype(np.int64)
    within = np.bincount(above[above >= 0], minlength=names.height).astype(np.float64)
    share = within / np.bincount(level, weights=within)[level]
    return Ring(names["location"].to_list(), above, share, level)


def greatest_by_chance(seen: pl.DataFrame, ring: Ring, parameters: Parameters) -> Floats:
    """Return the greatest excess over all places and series for each draw in which no place is special.

    Parameters
    ----------
    seen
        `vehicle_id`, `series`, `visit_day`, `location`: one row per visit and place as recorded.
    ring
        The places.
    parameters
        `scan_draws`.

    Returns
    -------
    ndarray
        ``(draws,)``.

    Notes
    -----
    In each draw all faults of a car are moved on by one random number of places along the ring of lowest places.
    What a car's jobs have in common stays together: several places on one order, neighbours among them, and a
    car that comes back to one place again and again. If all places are alike, what was recorded is one of the draws
    like any other, so the rank is exact. A fault whose record names a wider area is moved with a lowest place of it
    taken at random, and counts at its own level and above.

    References
    ----------
    .. [1] Upton and Fingleton (1985), Spatial Data Analysis by Example, vol. 1: moving one pattern over another
       by random shifts on a torus; from memory.
    """
    rng = generator("fault_location", "average place", parameters.scan_draws)
    hits = _hits(seen, ring, rng)
    cars, lowest = int(hits.car.max()) + 1, ring.above.shape[1]
    step = max(1, CELLS // hits.car.size)
    greatest = np.empty(parameters.scan_draws)
    for begin in range(0, greatest.size, step):
        part = greatest[begin : begin + step]
        part[:] = _greatest(_counts(hits, ring, rng.integers(lowest, size=(part.size, cars))), ring)
    return greatest


def _hits(seen: pl.DataFrame, ring: Ring, rng: np.random.Generator) -> Hits:
    rows = seen.sort("vehicle_id", "visit_day", "location").with_columns(
        car=pl.col("vehicle_id").rank("dense") - 1,
        visit=pl.struct("vehicle_id", "visit_day").rank("dense") - 1,
        group=pl.col("series").rank("dense") - 1,
    )
    number = {name: place for place, name in enumerate(ring.names)}
    place = np.array([number[name] for name in rows["location"]], dtype=np.int64)
    level = ring.level[place]
    order = np.argsort(rng.random(ring.above.shape[1]))
    lowest = np.empty(place.size, dtype=np.int64)
    for each in range(ring.above.shape[0]):
        # a lowest place of the one named; for a wider area one at random
        first = np.full(len(ring.names), -1, dtype=np.int64)
        first[ring.above[each, order]] = order
        lowest[level == each] = first[place[level == each]]
    is_lowest = np.isin(place, _lowest_places(ring))
    levels = np.where(is_lowest, ring.above.shape[0], level + 1)
    car, visit, group = (rows[name].to_numpy().astype(np.int64) for name in ("car", "visit", "group"))
    return Hits(car, visit, group, lowest, levels)


def _lowest_places(ring: Ring) -> Ints:
    deepest = (ring.above >= 0).sum(axis=0) - 1
    return np.asarray(ring.above[deepest, np.arange(deepest.size)], dtype=np.int64)


def _counts(hits: Hits, ring: Ring, shift: Ints) -> Floats:
    """Return visits with a fault per draw, series and place, every car's places moved on by its shift."""
    draws, groups, places = shift.shape[0], int(hits.series.max()) + 1, len(ring.names)
    moved = (hits.lowest + shift[:, hits.car]) % ring.above.shape[1]
    cell = np.arange(draws)[:, None] * groups + hits.series
    counts = np.zeros(draws * groups * places, dtype=np.int64)
    for level, above in enumerate(ring.above):
        place = np.where(hits.levels > level, above[moved], -1)
        counted = (place >= 0) & ~_again(place, hits.visit)
        counts += np.bincount((cell * places + place)[counted], minlength=counts.size)
    each = counts.reshape(draws, groups, places).astype(np.float64)
    return np.concatenate([each.sum(axis=1, keepdims=True), each], axis=1)


def _again(place: Ints, visit: Ints) -> NDArray[np.bool_]:
    """Whether an earlier row of the same visit names the same place."""
    again = np.zeros(place.shape, dtype=np.bool_)
    lag = 1
    while (rows := np.flatnonzero(visit[lag:] == visit[:-lag])).size:
        again[:, rows + lag] |= place[:, rows + lag] == place[:, rows]
        lag += 1
    return again


def _greatest(counts: Floats, ring: Ring) -> Floats:
    """Return the greatest excess of each draw."""
    totals = np.stack([counts[..., ring.level == each].sum(axis=-1) for each in range(ring.above.shape[0])], axis=-1)
    found = excess(counts, totals[..., ring.level] - counts, ring.share)
    return np.asarray(found.max(axis=(1, 2)), dtype=np.float64)
