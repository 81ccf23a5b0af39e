"""Age or distance, and which parts last longer: tables ``scale_choice`` and ``comparison`` in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.life import GROUPINGS
from dashboards.answers.listing import all_of
from dashboards.answers.said import series_named

if TYPE_CHECKING:
    from dashboards.answers.said import Row

LEAST_OF_HUNDRED = 0.01
MOST_PAIRS = 3
"""Pairs of levels that a page tells; the table holds them all."""

KIND = {"variant": "of {}", "series": "on {}", "part_origin": "of origin “{}”", "action": "that was {}"}
"""How a sentence calls a part of a level: a part of SL-7101, one on S2."""


def wears_by(choice: Row, needed: int) -> str:
    """Say whether a component wears by age or by distance, and from how many failures that is known.

    Parameters
    ----------
    choice
        Row of ``scale_choice``.
    needed
        Failures needed to tell.
    """
    told = f"{words.count(choice['failures'], 'failure')} of parts whose age and distance are known"
    why = {
        "no km": "No distance of these parts is known, so they are shown by age.",
        "km missing unevenly": (
            "Parts that failed lack their distance more, or less, often than others, "
            "so age and distance cannot be compared; it is shown by age."
        ),
        "too few failures": (
            f"Whether age or distance wears it, {needed} failures of parts whose age and distance are known could "
            f"tell; so far there are {choice['failures']}. It is shown by age."
        ),
        "used alike": "The cars are driven too much alike to tell age from distance; it is shown by age.",
    }
    if choice["status"] != "ok":
        return why.get(choice["status"], "Whether age or distance wears it cannot be told; it is shown by age.")
    if choice["verdict"] in ("age", "distance"):
        other = {"age": "distance", "distance": "age"}[choice["verdict"]]
        return f"It wears by {choice['verdict']} rather than by {other}, say {told}."
    return f"Whether age or distance wears it cannot be told from {told}; it is shown by age."


def told_apart(pairs: pl.DataFrame, grouping: str, sure: float) -> tuple[str, ...]:
    """Say which levels of a grouping last longer, and which grouping tells the parts apart best.

    Parameters
    ----------
    pairs
        Rows of ``comparison`` of one component and scale.
    grouping
        The grouping that is shown.
    sure
        Adjusted p-value below which levels are said to differ.
    """
    here = pairs.filter(pl.col("grouping") == grouping).sort("adjusted_p", "level_a", "level_b", nulls_last=True)
    said = [longer(row, sure) for row in here.head(MOST_PAIRS).iter_rows(named=True)]
    if here.height > MOST_PAIRS:
        more = words.count(here.height - MOST_PAIRS, "more pair")
        said.append(f"The snapshot's table “comparison” holds {more}.")
    best = pairs.filter(pl.col("told_apart_best") & (pl.col("grouping") != grouping))
    named = [f"These parts are told apart best {GROUPINGS[r['grouping']]}. {longer(r, sure)}" for r in best.to_dicts()]
    return (*said, *named, *none_apart(pairs, here, sure))


def none_apart(pairs: pl.DataFrame, here: pl.DataFrame, sure: float) -> tuple[str, ...]:
    """Say that no way of taking the parts tells them apart, with how many pairs were compared.

    Parameters
    ----------
    pairs, sure
        As in `told_apart`.
    here
        Those of `pairs` that the page tells one by one.
    """
    tested = pairs.filter(pl.col("adjusted_p").is_not_null())
    if tested.is_empty() or here.height or (tested["adjusted_p"] < sure).any():
        return ()
    ways = [said.removeprefix("by ") for name, said in GROUPINGS.items() if name in tested["grouping"].to_list()]
    named = all_of(ways, "or")
    many = words.count(tested.height, "pair")
    return (f"Taken by {named}, these parts show no difference in life beyond chance: {many} compared.",)


def longer(pair: Row, sure: float) -> str:
    """Say how many times as long the parts of one level last as those of the other, the longer one first.

    >>> names = ("grouping", "level_a", "level_b", "failures_a", "failures_b", "life_ratio", "lower", "upper")
    >>> pair = dict(zip(names, ("variant", "old", "new", 9, 14, 1.6, 1.1, 2.4)))
    >>> longer(pair | {"adjusted_p": 0.03, "comparisons": 12, "status": "ok"}, 0.05)[:58]
    'A part of new lasts about 1.6 times as long as one of old '
    """
    kind = KIND.get(pair["grouping"], "of {}")
    named = series_named if pair["grouping"] == "series" else str
    a, b = kind.format(named(pair["level_a"])), kind.format(named(pair["level_b"]))
    counts = f"{pair['failures_a']} and {words.count_figure(pair['failures_b'], 'failure')}"
    if pair["status"] == "safety-critical":
        return "No life is shown for such parts, and none is compared: inspect by the maker's manual."
    if pair["status"] == "too few":
        return f"Too few failures to compare parts {a} with parts {b}: {counts}."
    if pair["status"] == "bound only":
        return _bound(pair, a, b, sure)
    ratio, lower, upper = pair["life_ratio"], pair["lower"], pair["upper"]
    if ratio < 1:
        a, b, ratio, lower, upper = b, a, 1 / ratio, 1 / upper, 1 / lower
        counts = f"{pair['failures_b']} and {words.count_figure(pair['failures_a'], 'failure')}"
    limits = f"{words.two(lower)} to {words.two(upper)} times"
    if _differ(pair, sure):
        longest = f"A part {b} lasts about {words.two(ratio)} times as long as one {a}"
        return f"{longest} (could be {limits}; {counts}). {_stands(pair)}"
    unsure = f"Whether a part {b} lasts longer than one {a} cannot be said: it could last {limits} as long ({counts})"
    return f"{unsure}. What is seen may be chance, {_allowing(pair)}."


def _differ(pair: Row, sure: float) -> bool:
    return bool(pair["adjusted_p"] is not None and pair["adjusted_p"] < sure)


def _bound(pair: Row, a: str, b: str, sure: float) -> str:
    """Say what parts without a failure tell: a least ratio, or nothing yet."""
    whole, worn, least, failures = b, a, pair["lower"], pair["failures_a"]
    if pair["lower"] is None:
        whole, worn, least, failures = a, b, 1 / pair["upper"], pair["failures_b"]
    seen = f"no failure of the one, {failures} of the other"
    if _differ(pair, sure) and least > 1:
        longest = f"A part {whole} lasts at least {words.two(least)} times as long as one {worn}"
        return f"{longest}: {seen}. {_stands(pair)}"
    return f"Whether a part {whole} lasts longer than one {worn} cannot be said yet: {seen}."


def _stands(pair: Row) -> str:
    """Name the test: how often chance alone parts two median lives as much, with all comparisons allowed for.

    >>> _stands({"adjusted_p": 0.03, "comparisons": 12})
    'Chance alone parts two lives as much in 3 of 100 cases, with twelve comparisons allowed for.'
    """
    many = words.count(pair["comparisons"], "comparison")
    return f"Chance alone parts two lives as much in {by_chance(pair['adjusted_p'])} cases, with {many} allowed for."


def by_chance(p: float) -> str:
    """Write a small chance as a count, rounded up.

    >>> by_chance(0.03), by_chance(0.0042), by_chance(0.00001)
    ('3 of 100', '5 of 1000', 'fewer than 1 of 1000')
    """
    base = 100 if p >= LEAST_OF_HUNDRED else 1000
    return "fewer than 1 of 1000" if p < 1 / base else f"{math.ceil(p * base - 1e-9)} of {base}"


def _allowing(pair: Row) -> str:
    return f"after allowing for {words.count(pair['comparisons'], 'comparison')}"
