"""What fails next, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.listing import all_of
from dashboards.answers.said import Said

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row

DAYS = 120
LEAST = 5
"""Window, and cars from which an order is tested, where the snapshot does not name them."""

SURE = 0.05
"""A pair stands below this adjusted p-value."""

MOST_ROWS = 6
MORE, NO_ORDER, TOGETHER, THIN = "more", "no order", "together", "thin"
VERDICTS = {
    MORE: ("more than shared ageing", "more"),
    NO_ORDER: ("no order to see", "no order"),
    TOGETHER: ("renewed together: no order to see", "no order"),
    THIN: ("too little to say", "too little"),
}
"""What is said of a pair, and on a phone's width."""
NOT_WHY = (
    "Look at the second whenever the first has failed. The records tell the order, not the reason: the first may harm "
    "the second, its repair may, or it was changed first in vain."
)
SAY_SO = (
    "Where you see that one part harmed another, give its record the reason “consequence” and name the other part as "
    "its cause: that pair is then tested by itself. So is a pair that you know of from how the car is built, if you "
    "state it in column may_harm of your components."
)


CAPTION = (
    "One mark a car: its earliest pair of failures on two visits. Diamond: more than chance, even with so many pairs "
    "looked at. As many marks on either side mean bad cars or shared ageing. Faults found at inspections do not count."
)
NO_WAITING = (
    "One of these is critical for safety: no count here says how long it may be left. When either fails, have both "
    "inspected by the maker's manual before the car is driven."
)


def ready(frame: pl.DataFrame, after: str = "all") -> pl.DataFrame:
    """Return the pairs that the drawing shows, those that stand first, each pair once.

    Parameters
    ----------
    frame
        Rows of ``follow_on``.
    after
        Component that failed first, or ``all``.

    Returns
    -------
    polars.DataFrame
        The same columns, `pair` (both names) and `verdict`. Of the two orders of a pair the one that is nearer to
        standing is taken, unless a component was asked for.
    """
    stands = (pl.col("adjusted_p") < SURE).fill_null(value=False)
    verdict = (
        pl.when(stands)
        .then(pl.lit(MORE))
        .when(pl.col("status") == "too few")
        .then(pl.lit(THIN))
        .when(pl.col("status") == "renewed together")
        .then(pl.lit(TOGETHER))
        .otherwise(pl.lit(NO_ORDER))
    )
    named = frame.with_columns(
        pair=pl.format("{} → {}", "first", "then"),
        verdict=verdict,
        cars=pl.col("n_first_then") + pl.col("n_then_first"),
    )
    ranked = named.sort(
        ~stands,
        ~pl.col("declared"),
        pl.col("p_value").fill_null(1.0),
        "cars",
        "pair",
        descending=[False, False, False, True, False],
    )
    if after != "all":
        return ranked.filter(pl.col("first") == after)
    both = pl.concat_list("first", "then").list.sort()
    return ranked.unique(both, keep="first", maintain_order=True) if ranked.height else ranked


def order(row: Row) -> str:
    """Say how often each order came.

    >>> order({"n_first_then": 11, "n_then_first": 2})
    'eleven times it failed next, twice the other way round'
    """
    ahead, behind = words.times(row["n_first_then"]), words.times(row["n_then_first"])
    back = "never" if row["n_then_first"] == 0 else behind
    return f"{'never' if row['n_first_then'] == 0 else ahead} it failed next, {back} the other way round"


def sentence(row: Row) -> str:
    """Say of two components which one fails next, and whether that is more than chance."""
    told = {
        MORE: "more than shared ageing",
        NO_ORDER: "no order to see",
        TOGETHER: "but it is often renewed with the other, so that the order tells nothing",
        THIN: "too little to say",
    }
    return f"{words.first_up(row['first'])}, then {row['then']}: {order(row)}: {told[row['verdict']]}."


def in_short(row: Row) -> str:
    """Say for the front page what to look at when the first fails."""
    seen = words.count(row["n_first_then"], "car")
    back = "none" if row["n_then_first"] == 0 else words.count(row["n_then_first"], "car").split()[0]
    return f"{words.first_up(row['first'])} fails, then {row['then']}: on {seen} in this order, on {back} in the other."


def followed(row: Row) -> str:
    """Say after how many of the failures of the first that could be watched the second failed."""
    seen = f"{words.whole(row['followed'])} of {words.count(row['first_watched'], 'failure')}"
    return f"{seen} of the first followed so within {words.count_figure(row['window_days'], 'day')}"


def share(row: Row) -> str:
    """Say after how many of 100 failures of the first the second followed, and how soon."""
    first, then, days = row["first"], row["then"], words.count_figure(row["window_days"], "day")
    if not row["first_watched"]:
        return f"No failure of the {first} has been watched for {days} yet."
    k = math.floor(row["share"] * 100 + 0.5)
    often = "never" if row["share"] == 0 else "less than once" if k == 0 else f"about {words.times(k)}"
    could = words.could_be(row["share_lower"], row["share_upper"], 100)
    seen = f"{words.whole(row['followed'])} of {words.whole(row['first_watched'])}"
    said = f"After 100 failures of the {first} the {then} fails within {days} {often} ({could}): {seen}"
    return f"{said}; on half of the cars {_soon(row)}." if row["median_days"] is not None else f"{said}."


def _soon(row: Row) -> str:
    return f"within {words.count_figure(round(row['median_days']), 'day')}"


def declared(row: Row) -> str:
    """Say who declares that the one harms the other, and how that was allowed for."""
    if not row["declared"]:
        return ""
    many = words.first_up(words.count(row["told_by"], "record says", "records say"))
    told = [f"{many} so as the reason"] if row["told_by"] else []
    if row.get("stated"):
        told.append("your components table states it")
    apart = ", and the first of them is not counted in the test" if row["set_apart"] else ""
    return f"{words.first_up(' and '.join(told))}; the pair is tested among such pairs alone{apart}."


def tested_alone(rows: pl.DataFrame) -> str:
    """Name the pairs of these rows that are declared, tested and do not stand; `rows`: as from `ready`."""
    told = rows.filter(pl.col("declared") & (pl.col("verdict") == NO_ORDER))["pair"].to_list()
    if not told:
        return ""
    many = words.first_up(words.count(len(told), "pair is declared", "pairs are declared"))
    return f"{many}, tested among declared pairs alone, and without an order to see: {all_of(told)}."


def on_arrow(row: Row) -> dict[str, str]:
    """Return what is written on the arrow, below it, and on the way back."""
    soon = f"half {_soon(row)}".replace("within ", "within\n") if row["median_days"] is not None else ""
    return {
        "ahead": words.count_figure(row["n_first_then"], "car"),
        "soon": soon,
        "behind": words.count_figure(row["n_then_first"], "car"),
    }


def no_pair(days: int, least: int) -> tuple[str, tuple[str, ...]]:
    """Say that no two components failed near each other, and what is missing."""
    told = f"No two components of one car have failed within {days} days of each other yet."
    return told, (f"An order can be told once two components have failed so on {words.count(least, 'car')}.",)


def answer(rows: pl.DataFrame, frame: pl.DataFrame, until: date, least: int, *, asked: bool) -> Said:
    """Say what fails next, or that no order can be seen.

    Parameters
    ----------
    rows
        As from `ready`, at least one.
    frame
        All rows of ``follow_on``.
    until
        The snapshot's day.
    least
        Cars from which an order is tested.
    asked
        Whether a component was asked for.
    """
    top = rows.row(0, named=True)
    tested = rows.filter(pl.col("p_value").is_not_null())
    if top["verdict"] == MORE:
        facts = [f"**{words.count(top['cars'], 'car')}** with both", _failures(top)]
        told = tuple(note for note in (share(top), declared(top), NOT_WHY) if note)
        return Said("ink", sentence(top), words.evidence("ink", facts, until), told)
    pairs = words.count(rows.height, "pair of components", "pairs of components")
    if tested.is_empty():
        said = f"Too little to say: no two {'of these ' if asked else ''}components failed one after the other on"
        most = int(rows["cars"].max())  # type: ignore[arg-type]  # at least one row
        notes = (f"The most cars with such a pair are {words.COUNTS[most] if most <= 12 else most}.", SAY_SO)
        return Said("blank", f"{said} {words.count(least, 'car')}.", words.evidence("blank", [pairs], until), notes)
    of = words.count(rows.height, "component") if asked else pairs
    next_ = f"after the {top['first']}" if asked else "next"
    said = f"No order to see: of {of} none fails {next_} more often than chance could give."
    return Said(
        "ink",
        said,
        words.evidence("ink", [f"**{pairs}**", _tested(tested)], until),
        (noticed(frame, least), SAY_SO),
    )


def _failures(row: Row) -> str:
    return f"{words.count(row['first_watched'], 'failure')} of the first watched"


def _tested(tested: pl.DataFrame) -> str:
    return f"{words.count(tested.height, 'pair')} with cars enough to test"


def noticed(frame: pl.DataFrame, least: int) -> str:
    """Say how many cars in one order it takes until a pair stands out."""
    others, declared = (
        int(frame.filter(which)["tests"].max() or 0)  # type: ignore[arg-type]
        for which in (~pl.col("declared"), pl.col("declared"))
    )
    if not others:
        return ""
    cars, fewer = (max(least, math.ceil(math.log2(max(tests, 1) / SURE))) for tests in (others, declared))
    return (
        f"Among {words.count(others, 'test')} a pair stands out only if it comes in one order on about {cars} cars and "
        f"never in the other; one that is declared, from about {fewer}."
    )


def pairs(rows: pl.DataFrame, found: pl.DataFrame, records: pl.DataFrame) -> pl.DataFrame:
    """Return the pairs of records behind these rows, in either order, both jobs side by side, newest first.

    Parameters
    ----------
    rows
        As from `ready`.
    found
        Rows of ``follow_on_pair``.
    records
        Rows of ``record``.
    """
    asked = pl.concat([rows.select("first", "then", "pair"), rows.select(first="then", then="first", pair="pair")])
    jobs = [records.select(**{f"{end}_record": "record", f"{end}_job": "record_id"}) for end in ("first", "then")]
    return (
        found.join(asked.unique(["first", "then"], keep="first", maintain_order=True), on=["first", "then"])
        .join(jobs[0], on="first_record", how="left")
        .join(jobs[1], on="then_record", how="left")
        .sort("then_on", "first_record", "then_record", descending=True)
        .select("pair", "vehicle_id", "first", "first_job", "first_on", "then", "then_job", "then_on", "days")
    )
