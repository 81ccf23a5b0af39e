"""Which two faults of a car make a pair: one after the other within a window, and why the others do not count."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Ints = NDArray[np.int64]

PAIRS_AT_ONCE = 1_000_000
"""Cars are gone through in blocks of about so many pairs, so that a large fleet needs no more memory."""

COUNTED = "counts"
SAME_VISIT = "on the same visit"
FOUND = "one was found at inspection"
JOINING = "one was met when the car joined"
TOGETHER = "the other failed or was renewed on one of the two visits"
NOT_NEAREST = "another failure is nearer"
LATER = "an earlier pair of the car counts"
FATES = (SAME_VISIT, FOUND, JOINING, TOGETHER, NOT_NEAREST, LATER, COUNTED)
"""What becomes of a pair of faults; the first that applies. Every pair has one."""

EITHER = ["car", "low", "high"]
"""A car and two components, in whatever order they failed."""

NUMBERS = ("car", "visit", "kind", "from_day", "to_day", "found", "joining", "watched")
SPAN = 1 << 32
"""More than there are days, so that car and day sort as one number."""


@dataclass(frozen=True, slots=True)
class FaultPairs:
    """The pairs of a fleet, by row number of `events`.

    Attributes
    ----------
    counted
        first, then (events), days (from hand-over of the first to the next coming in): one pair per car and two
        components.
    followed
        kind, other (numbers of components), events: failures of `kind` that a failure of `other` followed.
    own
        kind, other, pairs: failures of one car of which the second comes within the window, by day of visit.
    fates
        fate, pairs, example (event): every pair by what became of it.
    """

    counted: pl.DataFrame
    followed: pl.DataFrame
    own: pl.DataFrame
    fates: pl.DataFrame


def find_pairs(events: pl.DataFrame, beside: pl.DataFrame, kinds: int, window: int) -> FaultPairs:
    """Find the pairs of faults of two components of a car, within a window.

    Parameters
    ----------
    events
        A row per car, visit and component, sorted by car, from_day and kind: car, visit, kind (numbers from 0),
        from_day, to_day (of the visit), found, joining (whether they rule it out), watched (could be followed).
    beside
        visit, other (component), sorted: what failed or was renewed on each visit.
    kinds
        How many components there are.
    window
        Days after the hand-over of the first within which the second comes in.

    Notes
    -----
    Rule 37. A failure is paired with the nearest failure of the other component, before or after, and of a car's pairs
    the earliest counts. Without the first step the component that fails more often would seem to come first: of
    A, B, A the earliest pair is always A, B. Days are counted between the visits, because while a car stays for one
    repair nothing else of it can fail: a component with long repairs would seem to come last.
    """
    together = beside["visit"].to_numpy().astype(np.int64) * kinds + beside["other"].to_numpy()
    parts = [_of_block(events, block, together, kinds, window) for block in _blocks(events, window)]
    parts = parts or [_of_block(events, (np.zeros(0, np.int64), np.zeros(0, np.int64)), together, kinds, window)]
    summed = {
        name: pl.concat([part[name] for part in parts]).group_by("kind", "other").agg(pl.col(what).sum())
        for name, what in (("followed", "events"), ("own", "pairs"))
    }
    fates = pl.concat([part["fates"] for part in parts]).group_by("fate")
    return FaultPairs(
        counted=pl.concat([part["counted"] for part in parts]).sort("first", "then"),
        fates=fates.agg(pl.col("pairs").sum(), pl.col("example").min()).sort("fate"),
        **summed,
    )


def _blocks(events: pl.DataFrame, window: int) -> Iterator[tuple[Ints, Ints]]:
    """Yield the pairs of two faults of a car that lie near enough, as two arrays of rows, whole cars at a time."""
    car, from_day, to_day = (events[name].to_numpy().astype(np.int64) for name in ("car", "from_day", "to_day"))
    place = car * SPAN + from_day
    end = np.searchsorted(place, car * SPAN + to_day + window, side="right")
    rows = np.arange(car.size)
    many = np.maximum(end - rows - 1, 0)
    before = np.concatenate([[0], np.cumsum(many)])
    last_of_car = np.flatnonzero(np.diff(car, append=-1))
    cut = np.searchsorted(before[last_of_car + 1], np.arange(PAIRS_AT_ONCE, before[-1] + PAIRS_AT_ONCE, PAIRS_AT_ONCE))
    stops = np.unique(np.minimum(cut, max(last_of_car.size - 1, 0)))
    begin = 0
    for stop in last_of_car[stops] + 1 if last_of_car.size else ():
        first = np.repeat(rows[begin:stop], many[begin:stop])
        step = np.arange(first.size) - (before[first] - before[begin])
        yield first, first + 1 + step
        begin = int(stop)


def _of_block(
    events: pl.DataFrame, block: tuple[Ints, Ints], together: Ints, kinds: int, window: int
) -> dict[str, pl.DataFrame]:
    pairs = _described(events, *block, together, kinds)
    able = pairs.filter(pl.col("fate").is_null())
    nearest = able.join(_nearest(able), on="pair", how="semi")
    earliest = nearest.sort("from_day", "then", "first").unique(EITHER, keep="first")
    told = pairs.with_columns(
        fate=pl.when(pl.col("fate").is_not_null())
        .then("fate")
        .when(pl.col("pair").is_in(earliest["pair"].implode()))
        .then(pl.lit(COUNTED))
        .when(pl.col("pair").is_in(nearest["pair"].implode()))
        .then(pl.lit(LATER))
        .otherwise(pl.lit(NOT_NEAREST))
    )
    by_kind = ["kind", "other"]
    followed = pairs.filter("follows").unique(["first", "other"]).group_by(by_kind).agg(events=pl.len().cast(pl.Int64))
    in_calendar = pairs.filter(pl.col("fit"), pl.col("apart").is_between(1, window))
    return {
        "counted": earliest.select("first", "then", "days"),
        "followed": followed,
        "own": in_calendar.group_by(by_kind).agg(pairs=pl.len().cast(pl.Int64)),
        "fates": told.group_by("fate").agg(pairs=pl.len().cast(pl.Int64), example=pl.col("then").min()),
    }


def _described(events: pl.DataFrame, first: Ints, then: Ints, together: Ints, kinds: int) -> pl.DataFrame:
    """Return the pairs of two components with their days, and the fate of those that cannot count."""
    column = {name: events[name].to_numpy() for name in NUMBERS}
    unlike = column["kind"][first] != column["kind"][then]
    first, then = first[unlike], then[unlike]
    kind, other, visit = column["kind"][first], column["kind"][then], column["visit"]
    same = visit[first] == visit[then]
    found = column["found"][first] | column["found"][then]
    joining = column["joining"][first] | column["joining"][then]
    fit = ~found & ~joining
    beside = _holds(together, visit[first] * kinds + other)
    fate = np.select([same, found, joining, beside | _holds(together, visit[then] * kinds + kind)], [0, 1, 2, 3], 4)
    return pl.DataFrame(
        {
            "pair": np.arange(first.size),
            "first": first,
            "then": then,
            "car": column["car"][first],
            "kind": kind,
            "other": other,
            "low": np.minimum(kind, other),
            "high": np.maximum(kind, other),
            "from_day": column["from_day"][first],
            "days": column["from_day"][then] - column["to_day"][first],
            "apart": column["from_day"][then] - column["from_day"][first],
            "fit": fit,
            "follows": fit & ~same & ~beside & column["watched"][first],
            "fate": pl.Series(fate).replace_strict(dict(enumerate(FATES[:4])), default=None, return_dtype=pl.String),
        }
    )


def _nearest(able: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs of two failures that are each the nearest to the other; a tie goes to the earlier."""
    ends = [
        able.select("pair", "days", "from_day", event=end, of=of) for end, of in (("first", "other"), ("then", "kind"))
    ]
    nearest = (
        pl.concat(ends).sort("days", "from_day", "pair").unique(["event", "of"], keep="first", maintain_order=True)
    )
    return nearest.group_by("pair").agg(ends=pl.len()).filter(pl.col("ends") == 2)


def _holds(sorted_codes: Ints, codes: Ints) -> NDArray[np.bool_]:
    at = np.minimum(np.searchsorted(sorted_codes, codes), max(sorted_codes.size - 1, 0))
    return sorted_codes[at] == codes if sorted_codes.size else np.zeros(codes.size, dtype=bool)
