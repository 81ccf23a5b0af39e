"""Read a component, a position or an action out of free text by ordered, validated patterns."""

from __future__ import annotations

from dataclasses import dataclass

import polars as pl

from analytics.errors import FeedError


@dataclass(frozen=True, slots=True)
class TextRules:
    """Ordered rules that turn free text into one word.

    Attributes
    ----------
    column
        Their column that holds the text.
    remove
        Patterns taken out of the text before any rule runs: model names and codes that look like words.
    rules
        Pattern and word; the first pattern found in the text gives the word, an empty word leaves it empty.
    otherwise
        Word where no rule applies.

    Notes
    -----
    Patterns ignore case and run in time linear in the text, so no pattern of a mapping can hang a load;
    they know no look-around.
    """

    column: str
    remove: tuple[str, ...]
    rules: tuple[tuple[str, str], ...]
    otherwise: str = ""

    def expression(self) -> pl.Expr:
        r"""Return the expression that reads the word out of the column; null where there is none.

        Examples
        --------
        >>> side = TextRules("text", ("RH120",), ((r"\bL/?H\b", "left"), (r"\bR/?H\b", "right")))
        >>> pl.DataFrame({"text": ["RH120 l/h track", "RH120 swing"]}).select(side.expression())["text"].to_list()
        ['left', None]
        """
        text = pl.col(self.column)
        for pattern in self.remove:
            text = text.str.replace_all(_ignoring_case(pattern), " ")
        word = pl.lit(self.otherwise or None, dtype=pl.String)
        for pattern, found in reversed(self.rules):
            hit = text.str.contains(_ignoring_case(pattern))
            word = pl.when(hit).then(pl.lit(found or None, dtype=pl.String)).otherwise(word)
        return pl.when(pl.col(self.column).is_not_null()).then(word).alias(self.column)


def check_pattern(pattern: str, where: str) -> None:
    """Refuse a pattern that is no regular expression, or that matches the empty text.

    Raises
    ------
    FeedError
        With the pattern and what is wrong with it.
    """
    try:
        matches_nothing = pl.Series([""]).str.contains(_ignoring_case(pattern))[0]
    except pl.exceptions.PolarsError as error:
        reason = next((line for line in reversed(str(error).splitlines()) if line.startswith("error:")), "error: ?")
        raise FeedError(
            f"{pattern!r} is not a regular expression: {reason.removeprefix('error: ')}",
            where=where,
            next_step="mend the pattern; look-around is not known, \\b is a word's edge",
        ) from None
    if matches_nothing:
        raise FeedError(
            f"{pattern!r} is found in every text, even an empty one",
            where=where,
            next_step="name at least one letter that must be there",
        )


def _ignoring_case(pattern: str) -> str:
    return f"(?i){pattern}"
