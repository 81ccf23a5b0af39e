"""Whether a modification helped, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import WHOLE_FROM, watched
from dashboards import words
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row
    from dashboards.words import State

PERIODS = {
    "before": "before, without the failure that led to it",
    "after": "since",
    "unmodified": "not modified, in the same years",
}
HOW_TO_MARK = (
    "No modification is known yet. A record marks one by the action modified; a part by another one that it is "
    "superseded by."
)
TRAP = (
    "Cars are modified because they failed, so before and since must not be set against each other: with the failure "
    "that led to it the time before looks worse than it was, without it better. The sentence above holds these cars "
    "against what they, with their own history, would have had. The trap is called regression to the mean."
)


def name_of(row: Row) -> str:
    """Name a modification in a list."""
    return f"{row['component']}: {row['modification']}"


def first(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the modifications, those of which something can be told on top, then most failures."""
    told = pl.col("verdict").is_in(["fewer failures", "more failures"])
    seen = pl.col("after_failures") + pl.col("led_to_it")
    return rows.sort(told, seen, "component", "kind", "modification", descending=[True, True, False, False, False])


def modified_answer(row: Row, until: date) -> Said:
    """Say whether a modification helped.

    Parameters
    ----------
    row
        Of ``before_after``.
    until
        The snapshot's day.
    """
    facts = [
        f"**{words.count(row['after_failures'], 'failure')}** since",
        words.count(row["vehicles"], "car"),
        watched(row["after_years"], "years"),
    ]
    who = words.first_up(name_of(row))
    if row["verdict"] == "too few":
        seen = words.count(row["after_failures"], "failure")
        said = f"{who}: too little to say whether it helped, {seen} since."
        return Said("blank", said, words.evidence("blank", facts, until))
    counts = f"{words.count(row['after_failures'], 'failure')} since, where about {words.two(row['expected'])}"
    limits = (
        f"{words.two(row['ratio'])} times as many (could be {words.two(row['lower'])} to {words.two(row['upper'])})"
    )
    ends = {
        "fewer failures": f"it helped: {counts} would have come without it, {limits}.",
        "more failures": f"it fails more often: {counts} would have come without it, {limits}.",
    }
    unsure = f"whether it helped cannot be told: {counts} would have come without it, {limits}."
    state: State = "ink" if row["verdict"] in ends else "pencil"
    return Said(state, f"{who}: {ends.get(row['verdict'], unsure)}", words.evidence(state, facts, until), (TRAP,))


IN_SHORT = {"fewer failures": "helped", "more failures": "did not help"}
"""Verdicts that stand out, and what the front page says of them."""


def in_short(row: Row) -> str:
    """Say for the front page whether a modification helped."""
    what = "the modification" if row["kind"] == "modified" else row["modification"]
    since = f"{words.count(row['after_failures'], 'failure')} since, where about {words.two(row['expected'])}"
    return f"{words.first_up(row['component'])}: {what} {IN_SHORT[row['verdict']]}: {since} would have come without it."


def why(row: Row) -> str:
    """Return the counts and limits behind it."""
    limits = f"could be {words.two(row['lower'])} to {words.two(row['upper'])}"
    return f"{words.count(row['vehicles'], 'car')}; {words.two(row['ratio'])} times as many ({limits})"


def table(row: Row) -> pl.DataFrame:
    """Return failures and rates before, since, and of those not modified."""
    watched_for = [row[f"{period}_years"] for period in PERIODS]
    return pl.DataFrame(
        {
            "watched": list(PERIODS.values()),
            "a year in 100 parts": [_rate(row, period) for period in PERIODS],
            "failures": [row[f"{period}_failures"] for period in PERIODS],
            "years watched": [round(years, 0 if years >= WHOLE_FROM else 1) for years in watched_for],
        }
    )


def led_to_it(row: Row) -> str:
    """Say how many failures led to it."""
    if not row["led_to_it"]:
        return "None of them was made because the part had just failed."
    many = words.first_up(words.count(row["led_to_it"], "failure"))
    return f"{many} led to it: counted with the cars not modified by then, and not before."


def _rate(row: Row, period: str) -> str:
    rate, low, high = (row[f"{period}_{name}"] for name in ("rate", "lower", "upper"))
    if rate is None or low is None or high is None:
        return "not known"
    return f"{words.two(rate)} ({words.two(low)} to {words.two(high)})"
