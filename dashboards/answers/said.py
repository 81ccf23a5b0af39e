"""What an answer consists of, on every page."""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from dashboards.words import State

Row = dict[str, Any]

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
    """One line of the front page, and the page that carries it."""

    state: State
    sentence: str
    why: str
    page: str
    choices: dict[str, str] = field(default_factory=dict)


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
