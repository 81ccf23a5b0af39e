"""When two spellings are one name: case, blanks, punctuation and words for sides; never a guess, never by likeness."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Collection

OPPOSITES = (
    ("front", "rear"),
    ("left", "right"),
    ("upper", "lower"),
    ("top", "bottom"),
    ("inner", "outer"),
)
"""Pairs of sides: a single letter is read only where these two are all the positions that a component has."""

SIDES = tuple(sorted({"centre", *(word for pair in OPPOSITES for word in pair)}))
"""Words that say where a slot is; in a position that holds no other word, their order says nothing."""

CODE = r"^[a-z](?:[ /]?[a-z])?$"
"""What may be the first letters of one or two words for sides."""

UNSEEN = r"[\x{ad}\x{200b}\x{feff}]"
DASHES = r"[\x{2010}-\x{2015}\x{2212}]"
MINUS = "\N{MINUS SIGN}"


def folded(text: pl.Expr) -> pl.Expr:
    """Return the key under which spellings of one name meet: ``Fuel-Hose``, ``fuel_hose`` and ``FUEL  HOSE.`` are one.

    Parameters
    ----------
    text
        Names as written.

    Returns
    -------
    polars.Expr
        In lower case, single blanks for blanks, hyphens, underscores and full stops, nothing around it. A full stop
        before a figure stays, and so does a hyphen before a figure unless a letter stands before it: ``1.5`` is not
        ``15``, and ``-5`` is not ``5``. A name of nothing but signs is its own key.

    Examples
    --------
    >>> names = pl.DataFrame({"n": ["Fuel-Hose", "FUEL  HOSE.", "dot-4 fluid", "jet 1.5", "-"]})
    >>> names.select(folded(pl.col("n"))).to_series().to_list()
    ['fuel hose', 'fuel hose', 'dot 4 fluid', 'jet 1.5', '-']
    """
    seen = text.str.replace_all(UNSEEN, "").str.normalize("NFC").str.to_lowercase().str.normalize("NFC")
    spaced = seen.str.replace_all("_", " ", literal=True).str.replace_all(DASHES, "-")
    spaced = spaced.str.replace_all(r"\.{2,}", " ").str.replace_all(r"\.(\D|$)", " ${1}")
    for _ in range(2):  # a figure between two hyphens is met once from each side
        spaced = spaced.str.replace_all(r"(^|[\s\d])-(\d)", f"${{1}}{MINUS}${{2}}")
    plain = spaced.str.replace_all("-", " ", literal=True).str.replace_all(r"\s+", " ").str.strip_chars(" ,;:")
    return pl.when(plain != "").then(plain).otherwise(seen.str.strip_chars())


def sided(text: pl.Expr) -> pl.Expr:
    """Return the key of a place: as `folded`, with one word for each way to write left, right and centre.

    Examples
    --------
    >>> places = pl.DataFrame({"n": ["Sill LH", "sill, left-hand side", "r/h sill", "vent duct center"]})
    >>> places.select(sided(pl.col("n"))).to_series().to_list()
    ['sill left', 'sill, left', 'right sill', 'vent duct centre']
    """
    key = folded(text)
    for letter, word in (("l", "left"), ("r", "right")):
        key = key.str.replace_all(rf"\b(?:{letter}[ /]?hs?|{word})(?: ?hand)*\b", word)
    return key.str.replace_all(r"\bcenter\b", "centre").str.replace(r"\b(left|right)(?: side)+$", "${1}")


def position_key(text: pl.Expr) -> pl.Expr:
    """Return the key of a position: as `sided`, and in one order where it holds nothing but words for sides.

    Examples
    --------
    >>> slots = pl.DataFrame({"n": ["Left-hand front", "front left", "engine front", "FL"]})
    >>> slots.select(position_key(pl.col("n"))).to_series().to_list()
    ['front left', 'front left', 'engine front', 'fl']
    """
    key = sided(text)
    words = key.str.split(" ")
    only_sides = words.list.eval(pl.element().is_in(SIDES)).list.all()
    return pl.when(only_sides).then(words.list.sort().list.join(" ")).otherwise(key)


def read_code(code: str, positions: Collection[str]) -> str | None:
    """Return the position that one or two letters stand for, or None where that is not sure.

    Parameters
    ----------
    code
        Key of what is written, such as ``fl``, ``f/l`` or ``l``.
    positions
        Keys of the positions that the component has.

    Returns
    -------
    str or None
        Of two letters, the only position whose two words they begin, in any order. Of a single letter, a side, and
        only where the component has two positions and these are opposites: ``l`` alone may be left or lower.

    Examples
    --------
    >>> corners = ["front left", "front right", "left rear", "rear right"]
    >>> read_code("fl", corners), read_code("rr", corners), read_code("l", corners), read_code("l", ["left", "right"])
    ('front left', 'rear right', None, 'left')
    """
    letters = sorted(letter for letter in code if letter not in " /")
    if len(letters) == 1:
        opposite = any(sorted(positions) == sorted(pair) for pair in OPPOSITES)
        fitting = [each for each in positions if opposite and each.startswith(letters[0])]
    else:
        fitting = [
            each
            for each in positions
            if all(word in SIDES for word in each.split(" ")) and sorted(word[0] for word in each.split(" ")) == letters
        ]
    return fitting[0] if len(fitting) == 1 else None
