"""Whether failures come more or less often over the years, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboards import words

if TYPE_CHECKING:
    from dashboards.answers.said import Row

VERDICTS = {"worsening": "more often than before", "improving": "less often than before", "steady": "no trend to see"}
"""How a page says the snapshot's verdicts."""

TWICE = 2.0


def verdict(row: Row) -> str:
    """Say whether failures crowd towards the end of watching; `row`: of ``failure_interval``."""
    return VERDICTS.get(row["trend"], "too little to say")


WHOSE = "Over the years"


def told(row: Row, whose: str = WHOSE) -> str:
    """Say the verdict, the change a year with its limits, and without a trend what change would have been noticed.

    Parameters
    ----------
    row
        Of ``failure_interval``; a snapshot of an earlier version has no change in it.
    whose
        How the sentence begins.
    """
    said = f"{whose}: {verdict(row)}"
    change, low, high = (row.get(f"yearly_change{end}") for end in ("", "_lower", "_upper"))
    if row["trend"] not in VERDICTS or change is None:
        return f"{said}."
    limits = f"could be {both(low, high)}" if low is not None and high is not None else ""
    if row["trend"] != "steady":
        within = f" ({limits})" if limits else ""
        return f"{said}, each year about {change_of(change)}{within}, each car compared with itself."
    said += f" ({limits} a year)." if limits else "."
    noticed = row.get("detectable_yearly_change")
    if noticed is None:
        return said
    return f"{said} A change to {change_of(noticed)} a year would have been noticed in 8 of 10 such fleets."


def change_of(ratio: float) -> str:
    """Say how many failures more or fewer a year than in the year before.

    >>> change_of(1.062), change_of(0.9), change_of(2.5), change_of(1.0)
    ('6.2 % more', '10 % fewer', '2.5 times as many', 'as many')
    """
    if ratio >= TWICE:
        return f"{words.two(ratio)} times as many"
    if ratio == 1:
        return "as many"
    return f"{words.two(100 * abs(ratio - 1))} % {'more' if ratio > 1 else 'fewer'}"


def both(low: float, high: float) -> str:
    """State the limits of a change, its word once where it is the same.

    >>> both(1.02, 1.1), both(0.97, 1.05)
    ('2.0 to 10 % more', '3.0 % fewer to 5.0 % more')
    """
    first, last = change_of(low), change_of(high)
    word = last.rsplit(" % ", 1)[-1]
    return f"{first.removesuffix(f' % {word}')} to {last}" if first.endswith(f" % {word}") else f"{first} to {last}"


def in_table(row: Row) -> str:
    """Say verdict and change in a few words."""
    change: float | None = row.get("yearly_change")
    if row["trend"] not in VERDICTS or row["trend"] == "steady" or change is None:
        return verdict(row)
    return f"{verdict(row)}: {change_of(change)} a year"
