"""What a life turns on, and when replacing before a failure pays: ``sensitivity``, ``planned_replacement`` in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.life import FAR, half_lasts

if TYPE_CHECKING:
    from dashboards.answers.said import Row

CHOICES = {
    "as shown": "as shown",
    "last visit": "to the last visit",
    "last visit and grace": "a while past that",
    "day of analysis": "to the day of analysis",
    "known age only": "known ages only",
    "by distance": "by distance",
}
"""How a page calls the choices of ``sensitivity``, in the order in which it shows them."""

SHOWN, LATEST = "as shown", "day of analysis"
TITLE = "“What this figure turns on”"
BRACKET = (SHOWN, "last visit")
LITTLE = 0.05
"""A smaller share of the cost saved is not worth the trouble of planning."""

LATER = "Cars watched to the day of the analysis may be long gone, so that line makes parts look better than they are."


def choices(rows: pl.DataFrame) -> pl.DataFrame:
    """Return a row per choice for the page's table: what was chosen, how long half last, times as shown, failures."""
    by_name = {row["choice"]: row for row in rows.iter_rows(named=True)}
    told = [(said, by_name[name]) for name, said in CHOICES.items() if name in by_name]
    return pl.DataFrame(
        {
            "counted": [said for said, _ in told],
            "half of them last": [half_lasts(row["life50"], row["life50_lower"], row["scale"]) for _, row in told],
            "times as shown": [
                None if row["times_shown"] is None else words.two(row["times_shown"]) for _, row in told
            ],
            "failures": [row["failures"] for _, row in told],
        },
        schema={
            "counted": pl.String,
            "half of them last": pl.String,
            "times as shown": pl.String,
            "failures": pl.Int64,
        },
    )


def in_short(rows: pl.DataFrame, state: words.State, scale: str) -> str:
    """Say in one sentence how far the median life moves if something else is counted; empty where no life can be told.

    Parameters
    ----------
    rows
        Of ``sensitivity``, one component.
    state
        How the life on the page is known.
    scale
        The one on the page.
    """
    life = {row["choice"]: row["life50"] for row in rows.iter_rows(named=True) if row["life50"] is not None}
    fair = [life[name] for name in CHOICES if name in life and name not in (SHOWN, LATEST, "by distance")]
    if state not in ("ink", "pencil") or SHOWN not in life or not fair or max(life[SHOWN], *fair) > FAR["age"]:
        return ""
    if scale != "age":
        return f"Taken by age, half of all such parts together last about {words.reach(life[SHOWN], 'age')}."
    apart = words.span(min(fair), max(fair), "age").removeprefix("could be ").removesuffix(" within rounding")
    return f"Counted in other ways, half of all such parts together last {apart}: see {TITLE} below."


def turning_points(rows: pl.DataFrame, used: float | None, least_used: float) -> tuple[str, ...]:
    """Say how far the choices lie apart; where few failures are used, between which two the truth lies (rule 23).

    Parameters
    ----------
    rows
        Of ``sensitivity``, one component.
    used
        Share of its failures that are used, None where there is none.
    least_used
        Share below which the bracket is told.
    """
    life = {row["choice"]: row for row in rows.iter_rows(named=True) if row["life50"] is not None}
    said = []
    if used is not None and used < least_used and all(name in life for name in BRACKET):
        low, high = sorted(min(life[name]["life50"], FAR["age"]) for name in BRACKET)
        said.append(
            f"Many failures came after the last visit that counts, so the median life is only known to lie between "
            f"{words.reach(low, 'age')} and {words.reach(high, 'age')}, give or take chance."
        )
    if LATEST in life:
        said.append(LATER)
    return tuple(said)


def planned(row: Row) -> tuple[str, tuple[str, ...]]:
    """Say at which age planned replacement is cheapest, and what must be known beside it.

    Parameters
    ----------
    row
        Of ``planned_replacement``.
    """
    if row["status"] == "too few":
        return f"Too little to say: {words.count(row['failures'], 'failure')} so far.", ()
    if row["status"] != "ok":
        return "The records do not show for certain that it wears out: replacing it early may gain nothing.", ()
    scale = row["scale"]
    at = words.reach(row["age"], scale)
    limits = words.span(row["age_lower"], row["age_upper"], scale)
    if row["saving"] < LITTLE:
        return f"Hardly worth it: even at the best time, about {at}, less than 5 % of the cost is saved.", ()
    share = (f"{words.two(100 * row[name])}" for name in ("saving", "saving_lower", "saving_upper"))
    sentence = (
        "Replaced at about {} ({}), it costs {} % less in the long run than waiting for the failure ({} to {} %)."
    )
    return sentence.format(at, limits, *share), (
        "The new part is taken to be as good as the last. At any sign of wear replace it at once, whatever its age.",
    )
