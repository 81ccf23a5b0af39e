"""How long a batch lasts, what stays unmet and what is left over: looked up in the snapshot."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.rounding import on_average
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row
    from dashboards.words import State

FIRM_REPAIRS = 5
MONEY = ("costs", "dearer than the best by")
UNCOUNTED = "No stock count is known, so whatever is on the shelf comes on top."
ENDS = {"runs_out_p10": "in 2 of 20", "runs_out_p50": "in 10 of 20", "runs_out_p90": "in 18 of 20"}


def told_of(batches: pl.DataFrame, row: Row, until: date) -> Said:
    """Say how long the smallest order lasts, and how long what is held lasts without it.

    Parameters
    ----------
    batches
        Rows of ``supply_end`` of one part, one with batch 0 among them.
    row
        Its row of ``reorder``.
    until
        The snapshot's day.
    """
    none, first = batches.sort("batch").row(0, named=True), batches.sort("batch").row(1, named=True)
    years = words.count_figure(none["years"], "year")
    state: State = "ink" if row["repairs"] >= FIRM_REPAIRS and none["cars_leave"] else "pencil"
    said = (
        f"{words.whole(first['batch'])} bought now are enough for {years} in {_enough(first)} outlooks"
        f"{_half(first, years)}. {UNCOUNTED if row['on_hand'] is None else _without(none)}"
    )
    held = [] if row["on_hand"] is None else [f"{words.whole(none['held'])} held and due"]
    facts = [f"**{words.count(row['repairs'], 'repair')}**", *held]
    notes = (_to_choose(batches, row), _pledged(none), *_notes(none, row))
    return Said(state, said, words.evidence(state, facts, until), tuple(filter(None, notes)))


def _ages_before(years: float, row: Row) -> str:
    """Return how long a part keeps, where that is less than so many years; else nothing."""
    months = row.get("shelf_life_months")
    ages = months and months / 12 < years
    return words.reach(months * words.DAYS_PER_YEAR / 12, "age") if months and ages else ""


def _to_choose(batches: pl.DataFrame, row: Row) -> str:
    """Name the batch to choose, and why; nothing where an older snapshot does not tell.

    A batch that would age on the shelf is not advised, however long it would last.
    """
    if "advised" not in batches.columns:
        return ""
    best, years = (
        batches.filter(pl.col("advised").fill_null(value=False)),
        words.count_figure(batches["years"][0], "year"),
    )
    if best.is_empty():
        return f"None of the batches compared lasts {years} as surely as asked for."
    best_row, keeps = best.row(0, named=True), _ages_before(batches["years"][0], row)
    batch = words.whole(best_row["batch"])
    if keeps:
        return f"{batch} would last {years}, but it keeps {keeps} only: buy no more than is used in that time."
    if best_row["expected_cost"] is not None:
        return f"To choose: {batch}, the cheapest of these with what is left over and what is asked for in vain."
    return f"To choose: {batch}, the least of these that lasts {years} as surely as asked for."


def _pledged(none: Row) -> str:
    """Say what buyers have promised to take."""
    pledged = none.get("pledged") or 0.0
    taken = f"{words.whole(pledged)} {'is' if pledged == 1 else 'are'}"
    return f"{taken} pledged to buyers, taken at once and counted in." if pledged else ""


def _enough(batch: Row) -> str:
    return f"{words.still(batch['p_enough'])} of 20"


def _half(batch: Row, years: str) -> str:
    gone = batch["runs_out_p50"]
    if gone is None:
        return f"; in more than half of them some are left after {years}"
    return f"; in half of them all are gone within {words.reach(gone * words.DAYS_PER_YEAR, 'age')}"


def _without(none: Row) -> str:
    gone = none["runs_out_p50"]
    if none["held"] <= 0:
        return "None is on the shelf or due."
    if gone is None:
        return "What is held is likely enough without them."
    return f"Without them half of the outlooks run out within {words.reach(gone * words.DAYS_PER_YEAR, 'age')}."


def _notes(none: Row, row: Row) -> list[str]:
    keeps = _ages_before(none["years"] + 1, row)  # looked ahead are the whole years that it keeps
    return [
        "Cars that leave, and cars that join, are counted."
        if none["cars_leave"]
        else "Reckoned at a rate of use that stays as it is: where cars leave, a batch lasts longer than said here.",
        f"It keeps {keeps} from the day it was made: what is left over then is lost, however long a batch would last."
        if keeps
        else "",
    ]


def listed(batches: pl.DataFrame, row: Row) -> pl.DataFrame:
    """Return the batches in shown columns: what each means until the last year looked at.

    Parameters
    ----------
    batches
        Rows of ``supply_end`` of one part.
    row
        Its row of ``reorder``.
    """
    cost = row.get("unit_cost")
    rows = [
        {
            "bought now": batch["batch"],
            "enough in": _enough(batch),
            "asked for in vain": on_average(batch["expected_unmet"]),
            "left over": on_average(batch["expected_left"]),
            **{f"gone, {name}": _when(batch, column) for column, name in ENDS.items()},
            "costs": _money(None if cost is None else batch["batch"] * cost, row.get("currency")),
            "dearer than the best by": _money(batch.get("regret"), batch.get("currency")),
        }
        for batch in batches.sort("batch").iter_rows(named=True)
    ]
    shown = pl.DataFrame(rows, schema_overrides=dict.fromkeys(MONEY, pl.String))
    return shown.drop([name for name in MONEY if shown[name].null_count() == shown.height])


def _money(cost: float | None, currency: str | None) -> str | None:
    return None if cost is None else f"{cost:,.2f} {currency or ''}".strip()


def _when(batch: Row, column: str) -> str:
    gone = batch[column]
    return "later" if gone is None else f"within {words.reach(gone * words.DAYS_PER_YEAR, 'age')}"


def how_to_read(batches: pl.DataFrame) -> str:
    """Say what the columns mean."""
    years = words.count_figure(batches["years"][0], "year")
    return (
        f"Enough, asked for in vain, left over: until {years} from now, on average; gone: by when all are used, later "
        f"= not within {years}. A part asked for in vain and a part left over cost something different: choose by both."
    )
