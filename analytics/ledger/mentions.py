"""Find a word within texts, whatever signs stand around it."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

if TYPE_CHECKING:
    from collections.abc import Iterable

SIGNS = r"[^\p{L}\p{N}]+"
"""Whatever is neither letter nor digit stands between words."""


def mentions(text: pl.Expr, word: pl.Expr) -> pl.Expr:
    """Return whether a text has a word (or words in a row) in it, in capitals or not; false where either is empty.

    Parameters
    ----------
    text, word
        String columns of one length, or a literal.

    Examples
    --------
    >>> frame = pl.DataFrame({"text": ["towed A-17.", "A-170"], "word": ["a-17", "A-17"]})
    >>> frame.select(mentions(pl.col("text"), pl.col("word"))).to_series().to_list()
    [True, False]
    """
    sought = _spaced(word)
    found = _spaced(text).str.contains(sought, literal=True) & (sought.str.len_bytes() > 1)
    return found.fill_null(value=False)


def mentions_any(text: pl.Expr, words: Iterable[str]) -> pl.Expr:
    """Return whether a text has one of the words in it; as `mentions`."""
    return pl.any_horizontal(pl.lit(value=False), *(mentions(text, pl.lit(word)) for word in sorted(words)))


def _spaced(text: pl.Expr) -> pl.Expr:
    return (pl.lit(" ") + text.str.to_lowercase() + pl.lit(" ")).str.replace_all(SIGNS, " ")
