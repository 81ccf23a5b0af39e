"""What the order of checks would have cost on closed jobs, in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

from dashboards import words
from dashboards.answers.rounding import signed

if TYPE_CHECKING:
    import polars as pl

    from dashboards.answers.said import Row

OTHERS = {
    "as first recorded": "the order in which the causes were first recorded",
    "alphabetical": "the alphabetical one",
}


def replayed(rows: pl.DataFrame) -> str:
    """Say what this order would have cost on all closed jobs, against others."""
    by = {row["checked"]: row for row in rows.iter_rows(named=True)}
    this = by.get("chance over minutes")
    others = [(by[name], said) for name, said in OTHERS.items() if name in by]
    if this is None or not others:
        return ""
    told = " and ".join(f"{said} {_more(row)}" for row, said in others)
    jobs, cars = words.whole(this["jobs"]), words.whole(this["vehicles"])
    return (
        f"Tried out on {jobs} closed jobs of {cars} cars and all complaints, each with only the records before it, "
        f"this order took {words.two(this['minutes'])} minutes of checks on average; {told}."
    )


def _more(row: Row) -> str:
    low, high = row["more_lower"], row["more_upper"]
    if low <= 0 <= high:
        return f"could not be told from it ({signed(low)} to {signed(high)} minutes)"
    way = "more" if row["more"] > 0 else "less"
    near, far = sorted((abs(low), abs(high)))
    return f"{words.two(abs(row['more']))} {way} (could be {words.two(near)} to {words.two(far)})"
