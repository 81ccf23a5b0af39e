"""Numbers with their nouns, one way for every sentence."""

from __future__ import annotations


def count(number: int, one: str, several: str | None = None) -> str:
    """Return a number with its noun, and what is said of it.

    Parameters
    ----------
    number
        How many.
    one
        Words after 1.
    several
        Words after any other number; None = the noun with an s, before "set aside" where that follows.

    Examples
    --------
    >>> count(1, "row"), count(1200, "row"), count(2, "value set aside"), count(0, "row waits", "rows wait")
    ('1 row', '1,200 rows', '2 values set aside', '0 rows wait')
    """
    noun, set_aside, rest = one.partition(" set aside")
    said = one if number == 1 else several or f"{noun}s{set_aside}{rest}"
    return f"{number:,} {said}"
