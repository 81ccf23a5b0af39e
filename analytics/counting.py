"""Numbers with their nouns, one way for every sentence."""

from __future__ import annotations

THIN_SPACE = "\u202f"
WHOLE_FROM, GROUPED_FROM = 9.95, 9999.5
"""From where years are told without a decimal, and in groups of three figures."""


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


def watched(years: float, unit: str) -> str:
    """Say how long was watched, the same wherever it stands: a count, no estimate that is rounded to two digits.

    Parameters
    ----------
    years
        Years of all cars or parts together.
    unit
        Such as ``car-years``.

    Examples
    --------
    >>> watched(860.7, "car-years"), watched(4.36, "car-years")
    ('861 car-years', '4.4 car-years')
    """
    told = f"{years:,.{0 if years >= WHOLE_FROM else 1}f}"
    return f"{told.replace(',', THIN_SPACE if years >= GROUPED_FROM else '')} {unit}"
