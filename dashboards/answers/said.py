"""What an answer consists of, on every page."""

from __future__ import annotations

import re
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from dashboards import words

if TYPE_CHECKING:
    from datetime import date

    from dashboards.words import State

Row = dict[str, Any]

CARS = 5
"""Cars from which an answer tells of a fleet; what fewer say, however often, is theirs (common practice, no source)."""

NO_SLOT = ("only", "all")
"""Positions that name no slot: the component has one, or is shown for the car as a whole."""


@dataclass(frozen=True, slots=True)
class Said:
    """One answer.

    Attributes
    ----------
    state
        How it is known.
    sentence
        The answer in one sentence.
    evidence
        Counts and freshness, in the page's markup.
    notes
        What must be known beside it, a sentence each.
    """

    state: State
    sentence: str
    evidence: str
    notes: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Standing:
    """One line of the front page, the page that carries it, and the component whose only line it is."""

    state: State
    sentence: str
    why: str
    page: str
    choices: dict[str, str] = field(default_factory=dict)
    component: str = ""


def several(name: str) -> str:
    """Name several parts of a kind, by the usual endings; a name that ends in s is taken for several already.

    >>> several("window motor"), several("battery"), several("suspension bush"), several("brake pads")
    ('window motors', 'batteries', 'suspension bushes', 'brake pads')
    """
    if re.search(r"[^aeiou]y$", name):
        return f"{name[:-1]}ies"
    if re.search(r"(ss|x|ch|sh)$", name):
        return f"{name}es"
    return name if name.endswith("s") else f"{name}s"


def place_of(component: str, position: str | None) -> str:
    """Name a slot of a component.

    >>> place_of("battery", "only"), place_of("coolant hose", "top")
    ('battery', 'coolant hose, top')
    """
    return component if not position or position in NO_SLOT else f"{component}, {position}"


def series_named(series: str) -> str:
    """Name a series so that a bare number is not taken for a count.

    >>> series_named("S2"), series_named("7")
    ('S2', 'series 7')
    """
    return f"series {series}" if series[:1].isdigit() else series


def of_fleet(state: State, cars: int) -> State:
    """Return the state of an answer about a fleet: in pencil where few cars stand behind it.

    >>> of_fleet("ink", 5), of_fleet("ink", 1), of_fleet("one-sided", 1)
    ('ink', 'pencil', 'one-sided')
    """
    return "pencil" if state == "ink" and cars < CARS else state


def told_of_fleet(said: Said, cars: int, until: date) -> Said:
    """Put an answer in pencil where few cars stand behind it, and say so in its evidence."""
    state = of_fleet(said.state, cars)
    if state == said.state:
        return said
    facts = said.evidence.split(words.BETWEEN)[1:-1]
    return replace(said, state=state, evidence=words.evidence(state, facts, until, words.FEW_CARS))
