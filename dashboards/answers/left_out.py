"""Which recorded failures count and which are left out, and why, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words

if TYPE_CHECKING:
    from dashboards.answers.said import Row

NO_COMPONENT = "none"
"""Component of a fault of which only a further place is known."""

WHY = {
    "after the last neutral visit": "after the car's last visit for anything else",
    "joining fault": "found when the car joined",
    "before the car was watched": "before the car was watched",
    "no neutral visit": "of cars that came for nothing else",
    "component not on this car": "of cars that have no such part",
}
"""How a page says why a fault is left out, by the snapshot's words, in order."""


def told(faults: pl.DataFrame, seen: int, used: int) -> str:
    """Say how many of the failures recorded count, and why the others do not.

    Parameters
    ----------
    faults
        Rows of ``fault`` of one component, with or without ``why_unused``.
    seen, used
        Failures recorded and used.

    Returns
    -------
    str
        Empty where all count.
    """
    if seen <= used:
        return ""
    said = f"{words.whole(seen)} {'failure is' if seen == 1 else 'failures are'} recorded, {words.whole(used)} used"
    why = reasons(faults)
    return f"{said}; left out: {', '.join(why)}." if sum_of(faults) == seen - used else f"{said}."


def of_lives(faults: pl.DataFrame, model: Row) -> str:
    """Say how many failures of a component stand in its life curve, and why the others do not.

    Parameters
    ----------
    faults
        Rows of ``fault`` of the component.
    model
        Row of ``life_model``; its counts of failures recorded and used are of the whole component.
    """
    seen, used = model["events_seen"], model["events_used"]
    said = told(faults, seen, used)
    if model["grouping"] != "component":
        return said.replace("recorded,", "recorded of this component in all its kinds,")
    rest = used - model["failures"]
    if rest <= 0:
        return said
    why = (
        "of parts whose distance is not known, or that had failed before"
        if model["scale"] == "distance"
        else "of parts that had failed before and were repaired in place, or were fitted used"
    )
    return f"{said} {words.whole(rest)} more count as failures but stand in no curve: {why}.".strip()


def of_all(cars: pl.DataFrame, records: pl.DataFrame, faults: pl.DataFrame) -> str:
    """Say what a snapshot is made of: cars, visits, jobs, failures that count, and why the others do not.

    Parameters
    ----------
    cars, records, faults
        Rows of ``vehicle``, ``record`` and ``fault``.

    Returns
    -------
    str
        To be put behind the day of the snapshot; empty where no car is known.
    """
    if cars.is_empty():
        return ""
    counts = [
        counted_as(cars.height, "car"),
        counted_as(int(cars["visits"].sum()), "visit"),
        counted_as(records["record_id"].n_unique(), "closed job"),
    ]
    counted = faults.filter(pl.col("component") != NO_COMPONENT)
    used = int(counted["used"].sum())
    which = "all" if used == counted.height else f"{words.whole(used)} of them"
    if counted.height:
        counts.append(f"{counted_as(counted.height, 'fault')}, {which} counted in lives and rates")
    why = reasons(counted)
    left = f"; left out: {', '.join(why)}" if why else ""
    return f" · {' · '.join(counts)}{left}."


def counted_as(n: int, noun: str) -> str:
    """Count in figures: 1 car, 10 000 visits."""
    return f"{words.whole(n)} {noun if n == 1 else noun + 's'}"


def reasons(faults: pl.DataFrame) -> list[str]:
    """Return a count and its reason for each reason, in the order of `WHY`."""
    if "why_unused" not in faults.columns:
        return []
    counts = dict(faults.group_by("why_unused").len().iter_rows())
    return [f"{words.whole(counts[why])} {said}" for why, said in WHY.items() if counts.get(why)]


def sum_of(faults: pl.DataFrame) -> int:
    """Count the faults whose reason is known."""
    return faults.filter(pl.col("why_unused").is_in([*WHY])).height if "why_unused" in faults.columns else 0
