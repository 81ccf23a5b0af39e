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
PLEDGES = "pledges needed"
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
    need = none.get("expected_need")
    needed = [] if need is None else [f"about {words.whole(round(need))} needed in {years}"]
    facts = [f"**{words.count(row['repairs'], 'repair')}**", *needed, *held]
    notes = (_to_choose(batches, row), _pays(none, first, row), *_pledged(none), *_notes(none, row))
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


def _pledged(none: Row) -> list[str]:
    """Say what buyers have promised to take; those whose cars are in care apart, for their need is foretold already."""
    beside, inside = (none.get(name) or 0.0 for name in ("pledged", "pledged_in_care"))
    return [
        f"{_are(beside)} pledged by buyers whose cars are not in care: taken at once, on top of what your cars need."
        if beside
        else "",
        f"{_are(inside)} pledged by owners of cars in care: taken at once, as a part of what these cars need, and not "
        "counted twice."
        if inside
        else "",
    ]


def _are(number: float) -> str:
    return f"{words.whole(number)} {'is' if number == 1 else 'are'}"


def _asks_for_pledges(none: Row, row: Row) -> bool:
    """Return whether pledges matter: where some are given, or where no fewer than a batch can be had."""
    given = (none.get("pledged") or 0.0) + (none.get("pledged_in_care") or 0.0)
    return given > 0 or (row.get("minimum_order") or 1) > 1


def _pays(none: Row, first: Row, row: Row) -> str:
    """Say how many pledges make the smallest batch pay; nothing where an older snapshot does not tell."""
    needed = first.get("pays_from")
    if needed is None or not _asks_for_pledges(none, row):
        return ""
    batch, why = words.whole(first["batch"]), _pay_means(first, row)
    if needed == 0:
        return f"A batch of {batch} pays without a pledge: {why}."
    pledges = words.count(needed, "pledge")
    return f"A batch of {batch} pays from {pledges} of buyers whose cars are not in care: {why}."


def _pay_means(batch: Row, row: Row) -> str:
    if batch.get("expected_cost") is not None:
        return "it is then no dearer than buying none"
    years, often = words.count_figure(batch["years"], "year"), words.still(row["service_level"])
    return f"it is then used up within {years} in {often} of 20 outlooks"


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
    if gone == 0:
        return "Without them there are not enough for those pledged."
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
            PLEDGES: batch.get("pays_from"),
            "costs": _money(None if cost is None else batch["batch"] * cost, row.get("currency")),
            "dearer than the best by": _money(batch.get("regret"), batch.get("currency")),
        }
        for batch in batches.sort("batch").iter_rows(named=True)
    ]
    shown = pl.DataFrame(rows, schema_overrides=dict.fromkeys(MONEY, pl.String) | {PLEDGES: pl.Int64})
    empty = [name for name in (*MONEY, PLEDGES) if shown[name].null_count() == shown.height]
    asked = _asks_for_pledges(batches.row(0, named=True), row)
    return shown.drop({*empty, *([] if asked else [PLEDGES])})


def _money(cost: float | None, currency: str | None) -> str | None:
    return None if cost is None else f"{cost:,.2f} {currency or ''}".strip()


def _when(batch: Row, column: str) -> str:
    gone = batch[column]
    if gone is None:
        return "later"
    return f"within {words.reach(gone * words.DAYS_PER_YEAR, 'age')}" if gone > 0 else "at once"


def how_to_read(batches: pl.DataFrame, row: Row) -> str:
    """Say what the columns mean."""
    years = words.count_figure(batches["years"][0], "year")
    told = (
        f"Enough, asked for in vain, left over: until {years} from now, on average; gone: by when all are used, later "
        f"= not within {years}. A part asked for in vain and a part left over cost something different: choose by both."
    )
    if PLEDGES not in listed(batches, row).columns:
        return told
    means = _pay_means(batches.sort("batch").row(1, named=True), row)
    return f"{told} Pledges needed: from so many of buyers whose cars are not in care the batch pays; {means}."
