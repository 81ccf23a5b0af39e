"""What somebody thinks of a part's life beside what the records say: ``expert_opinion`` in words."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.life import FAR, half_lasts

if TYPE_CHECKING:
    from dashboards.answers.said import Row

MOST_OWED = 0.5
"""Share above which what both tell is mostly the opinion."""

ELSEWHERE = "Nothing else uses the opinion: all other figures and the forecasts rest on the records alone."


def stated(row: Row) -> str:
    """Say what the opinion is, and how many cars it counts for.

    Parameters
    ----------
    row
        Of ``expert_opinion``.
    """
    whose = f" (source: {row['source']})" if row["source"] else ""
    worth = words.count_figure(row["cars"], "car")
    if row["cars_counted"] < row["cars"]:
        worth += f", and counts for {row['cars_counted']:g}, the most that any opinion does"
    return (
        f"The opinion{whose}: of 10 newly fitted, {row['first_good']:g} still work after {_years(row['first_years'])} "
        f"and {row['second_good']:g} after {_years(row['second_years'])}. It is worth {worth}."
    )


def weighed(row: Row) -> tuple[str, ...]:
    """Say how much of the joint figure is opinion, and where the records contradict it.

    Parameters
    ----------
    row
        Of ``expert_opinion``.
    """
    said = []
    share = row["opinion_share"]
    if share is not None:
        owed = "Most" if share > MOST_OWED else f"About {words.two(100 * share)} %"
        said.append(f"{owed} of what both together know of the median life is the opinion.")
    thought, low, high = (row[name] for name in ("opinion_life50", "records_life50_lower", "records_life50_upper"))
    if low is not None and thought is not None:
        longer = thought < low
        if longer or (high is not None and thought > high):
            said.append(f"The records say that such parts last {'longer' if longer else 'less long'} than that.")
    return (*said, ELSEWHERE)


def beside(row: Row) -> pl.DataFrame:
    """Return a row for the opinion, the records and both: how long half of them last, and the limits.

    Parameters
    ----------
    row
        Of ``expert_opinion``.
    """
    thought = row["opinion_life50"]
    told = {
        "the opinion alone": (half_lasts(thought, None, "age"), ""),
        f"the records alone, {words.count_figure(row['failures'], 'failure')}": _half(row, "records_"),
        "both together": _half(row, ""),
    }
    return pl.DataFrame(
        [{"by": by, "half of them last": half, "limits": limits} for by, (half, limits) in told.items()]
    )


def _half(row: Row, whose: str) -> tuple[str, str]:
    middle, low, high = (row[f"{whose}life50{end}"] for end in ("", "_lower", "_upper"))
    if middle is None or high is None:
        return half_lasts(None, low, "age"), ""
    return half_lasts(middle, low, "age"), words.span(low, high, "age") if high <= FAR["age"] else ""


def _years(years: float) -> str:
    return words.count_figure(years, "year")
