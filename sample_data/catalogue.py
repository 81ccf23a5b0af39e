"""The invented catalogue: components, positions, places, words and parts of the Sarnholt Lindwarden."""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from sample_data.lives import Law

SCENARIO = Path(__file__).with_name("scenario")


@dataclass(frozen=True, slots=True)
class Component:
    """One kind of part, its life law and how it is met with in the workshop.

    Attributes
    ----------
    code, name, system, family
        Short word used inside the generator; the name in the feed; system; family for pooling, may be empty.
    law
        Life law of a unit; None if it never wears out by itself.
    action, renewed_by
        Usual action at a repair; renewing actions beyond the usual three.
    safety_critical, seen_at_service
        As in the native table ``components``.
    series
        Series that have it.
    silent_share, mate_share
        Share of faults nobody notices before someone looks; share of repairs at which a sister position is renewed
        in passing. 0-1.
    check_minutes, labour_minutes, part_cost
        Minutes to check and to renew it; cost where no part number is known.
    may_harm
        As in the native table: what the workshop suspects, rightly or not.
    positions
        Positions, in order.
    """

    code: str
    name: str
    system: str
    family: str
    law: Law | None
    action: str
    renewed_by: str
    safety_critical: bool
    seen_at_service: bool
    series: tuple[str, ...]
    silent_share: float
    mate_share: float
    check_minutes: int
    labour_minutes: int
    part_cost: int
    may_harm: str
    positions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Series:
    """One production series: first and last year of building, prefix and last number of its serials."""

    series: str
    first_year: int
    last_year: int
    prefix: str
    last_serial: int


@dataclass(frozen=True, slots=True)
class Wording:
    """What is said at the counter, what the workshop finds then, and why."""

    wording: str
    finding: str
    cause: str


@dataclass(frozen=True, slots=True)
class Symptoms:
    """Complaints of a component with their weights, and what is found where nobody complained."""

    complaints: tuple[Wording, ...]
    weights: tuple[float, ...]
    silent: tuple[Wording, ...]


def scenario_rows(name: str) -> list[dict[str, str]]:
    """Return the rows of one file of the scenario."""
    with (SCENARIO / f"{name}.csv").open(encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


@cache
def series() -> dict[str, Series]:
    """Return the production series by name."""
    return {
        row["series"]: Series(
            row["series"], int(row["first_year"]), int(row["last_year"]), row["prefix"], int(row["last_serial"])
        )
        for row in scenario_rows("series")
    }


def _law(row: dict[str, str]) -> Law | None:
    if row["scale"] == "never":
        return None
    return Law(
        scale=row["scale"],
        shape=float(row["shape"]),
        median_years=float(row["median_years"] or 0.0),
        median_km=1000.0 * float(row["median_thousand_km"] or 0.0),
    )


def _component(row: dict[str, str], positions: tuple[str, ...]) -> Component:
    return Component(
        code=row["code"],
        name=row["component"],
        system=row["system"],
        family=row["family"],
        law=_law(row),
        action=row["action"],
        renewed_by=row["renewed_by"],
        safety_critical=row["safety_critical"] == "yes",
        seen_at_service=row["seen_at_service"] == "yes",
        series=tuple(row["series"].split(";")) if row["series"] else tuple(series()),
        silent_share=float(row["silent_share"]),
        mate_share=float(row["mate_share"]),
        check_minutes=int(row["check_minutes"]),
        labour_minutes=int(row["labour_minutes"]),
        part_cost=int(row["part_cost"]),
        may_harm=row["may_harm"],
        positions=positions,
    )


@cache
def components() -> dict[str, Component]:
    """Return the components by code, in the order of the catalogue."""
    positions: dict[str, list[str]] = {}
    for row in scenario_rows("positions"):
        positions.setdefault(row["code"], []).append(row["position"])
    return {row["code"]: _component(row, tuple(positions[row["code"]])) for row in scenario_rows("components")}


@cache
def candidate_places() -> dict[tuple[str, str], tuple[str, ...]]:
    """Return, per component code and position, the places where its fault can show."""
    return {(row["code"], row["position"]): tuple(row["places"].split(";")) for row in scenario_rows("positions")}


@cache
def symptoms() -> dict[str, Symptoms]:
    """Return what is said and found, per component code."""
    words = {row["wording"]: Wording(row["wording"], row["finding"], row["cause"]) for row in scenario_rows("wordings")}
    said: dict[str, list[tuple[Wording, float]]] = {}
    silent: dict[str, list[Wording]] = {}
    for row in scenario_rows("symptoms"):
        if row["silent"] == "yes":
            silent.setdefault(row["code"], []).append(words[row["wording"]])
        else:
            said.setdefault(row["code"], []).append((words[row["wording"]], float(row["weight"])))
    return {
        code: Symptoms(tuple(w for w, _ in pairs), tuple(n for _, n in pairs), tuple(silent[code]))
        for code, pairs in said.items()
    }
