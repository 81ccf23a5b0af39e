"""Which parts are critical for safety by their names, where the components table says nothing: one list for all."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable

SIGNS: dict[str, tuple[str, ...]] = {
    "brakes": (
        *("brake", "servo", "wheel cylinder", "master cylinder", "caliper", "hand brake", "pedal box"),
        "anti lock",
        *("brems", "frein", "freno"),
    ),
    "fuel": (
        *("fuel", "petrol", "gasoline", "gas tank", "diesel", "lpg", "carburet", "inject", "cng"),
        *("kraftstoff", "benzin", "carburant", "brandstof"),
    ),
    "hydraulic pressure": (
        *("accumulator", "hydraul", "ride height"),
        *("pressure vessel", "pressure hose", "pressure line", "gas sphere"),
    ),
    "steering and wheels": (
        *("steer", "track rod", "track arm", "tie rod", "drag link", "drop arm", "ball joint", "king pin"),
        *("stub axle", "hub carrier", "swivel", "lenk", "spurstange", "radlager", "sterzo"),
        *("wheel bearing", "wheel hub", "wheel stud", "wheel nut", "wheel bolt", "tyre", "tire"),
        *("road wheel", "wheel rim"),
    ),
    "springs and suspension": (
        *("spring", "strut", "suspension", "damper", "shock absorb"),
        *("wishbone", "control arm", "trailing arm", "torsion bar", "anti roll bar"),
    ),
    "airbags and belts": ("air bag", "pretension", "seat belt", "safety belt"),
    "battery": ("battery",),
    "lifting points": ("lifting", "jack point", "jacking point", "subframe", "sill"),
    "shared vacuum": ("vacuum", "one way valve"),
}
"""Beginnings of words, in lower case, by system; a space stands for any gap, or none.

English, and the words for brakes, fuel and steering of a few neighbours: a part with another name has to be stated in
the components table. A word too many costs a life left blank, which the components table gives back, and every page
says which word it was; a word too few might let somebody run a brake for longer."""


def pattern_of(signs: Iterable[str]) -> str:
    """Return the regular expression that finds a word beginning with one of the signs in lower-case text.

    The database reads it as Python does: it uses no more than groups and sets of characters.

    Parameters
    ----------
    signs
        Beginnings of words, in lower case.

    Examples
    --------
    >>> pattern_of(["fuel", "ball joint"])
    '(^|[^a-z0-9])(fuel|ball[^a-z0-9]*joint)'
    """
    return f"(^|[^a-z0-9])({'|'.join('[^a-z0-9]*'.join(sign.split()) for sign in signs)})"


PATTERN = pattern_of(sign for signs in SIGNS.values() for sign in signs)
"""Finds every sign of `SIGNS`; for text in lower case."""


def has_sign(text: str, signs: Iterable[str]) -> bool:
    """Say whether some word of a text begins with one of the signs.

    Examples
    --------
    >>> has_sign("Lower ball-joint", SIGNS["steering and wheels"]), has_sign("unbraked axle", SIGNS["brakes"])
    (True, False)
    """
    return re.search(pattern_of(signs), text.lower()) is not None


def sign_in(*names: str | None) -> str | None:
    """Return the first word by which a component is taken as safety-critical, in lower case.

    Parameters
    ----------
    *names
        Component and system, as the records call them; None where not told.

    Examples
    --------
    >>> sign_in("Valve-Spring", "engine"), sign_in("hose", "Hydraulics"), sign_in("window motor", None)
    ('spring', 'hydraulics', None)
    """
    found = (re.search(f"{PATTERN}[a-z0-9]*", name.lower()) for name in names if name)
    return next((match.group().removeprefix(match.group(1)) for match in found if match), None)


def critical_by_name(*names: str | None) -> bool:
    """Say whether a component is taken as safety-critical by its name or system.

    Parameters
    ----------
    *names
        Component and system, as the records call them; None where not told.

    Examples
    --------
    >>> critical_by_name("hose", "Fuel"), critical_by_name("window motor", None)
    (True, False)
    """
    return sign_in(*names) is not None
