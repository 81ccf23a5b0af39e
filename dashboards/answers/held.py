"""Did the repair hold, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from analytics.snapshot.told import SAFETY_CRITICAL
from dashboards import words
from dashboards.answers.said import Said, several

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.said import Row

DAYS, KM = 90, 1500
"""The window, where the snapshot does not name it."""

MOST_ROWS = 9
AXIS_ENDS = (5, 10, 20, 30, 40, 50, 60, 80, 100)
MORE, NO_MORE, UNTOLD = "more than chance", "no more than chance", "cannot be told"
NO_LIFE = "no life known"
NO_PART = "no part"
NOT_SHOWN = {
    MORE: ": more than chance gives",
    NO_MORE: ": no more than chance gives",
    UNTOLD: "; what chance gives is not known",
}
"""How a sentence ends where the fence of chance is not shown, or there is none."""
SPLITS = {"action": "by what was done", "part_origin": "also by origin of the part"}
NOT_COUNTED = {
    "repairs_open": ("whose window is still open", "whose window is still open"),
    "repairs_left": ("of a car that left before", "of cars that left before"),
    "repairs_undated": ("of which only year or month is known", "of which only year or month is known"),
}
"""Columns that count repairs not watched, and what is said of one and of several."""

LOAD = "Load repairs with what was done, the reason, and the days of coming in and handing over."


def ready(frame: pl.DataFrame, split: str, component: str = "all") -> pl.DataFrame:
    """Return the kinds of repair that were watched, what is sure first, with what the drawing needs.

    Parameters
    ----------
    frame
        Rows of ``repeat_repair``.
    split
        Key of `SPLITS`.
    component
        One component, or ``all``.
    """
    by_origin = pl.col("part_origin") != "all" if split == "part_origin" else pl.col("part_origin") == "all"
    rows = frame.filter((pl.col("action") != "all") & by_origin & (pl.col("repairs") > 0))
    if component != "all":
        rows = rows.filter(pl.col("component") == component)
    told = {MORE: 0, NO_MORE: 1, UNTOLD: 2}
    hundred = 100 / pl.col("repairs")
    return rows.with_columns(
        repair=label(),
        thin=(pl.col("verdict") == UNTOLD) & (pl.col("status") != NO_LIFE),
        sure=pl.col("verdict") == MORE,
        shown=pl.col("share") * 100,
        shown_lower=pl.col("lower") * 100,
        shown_upper=pl.col("upper") * 100,
        # short-lived parts fail several times in a window, but a repair comes back once
        chance=(pl.col("expected_by_chance") * hundred).clip(upper_bound=100),
        chance_least=(pl.col("chance_lower") * hundred).clip(upper_bound=100),
        chance_most=(pl.col("chance_upper") * hundred).clip(upper_bound=100),
    ).sort(
        pl.col("verdict").replace_strict(told, default=2),
        pl.col("adjusted_p").fill_null(1.0),
        "returns",
        "repairs",
        "repair",
        descending=[False, False, True, True, False],
    )


def label() -> pl.Expr:
    """Return the name of a kind of repair: window motor, overhauled."""
    origin = pl.col("part_origin")
    named = pl.when(origin == NO_PART).then(pl.lit(NO_PART)).otherwise(pl.format("origin {}", origin))
    told = pl.when(origin == "all").then(pl.lit("")).otherwise(pl.format(", {}", named))
    return pl.format("{}, {}{}", "component", "action", told)


def sentence(row: Row, days: int) -> str:
    """Say of 100 such repairs how many come back, beside what chance gives."""
    limits = (row["chance_lower"], row["chance_upper"])
    if None in limits:
        return come_back(_kind(row), row["share"], days, NOT_SHOWN[row["verdict"]])
    least, most = (min(100.0, limit / row["repairs"] * 100) for limit in limits)
    low, high = math.floor(least + 1e-9), math.ceil(most - 1e-9)
    return come_back(
        _kind(row), row["share"], days, f"; chance alone gives {high if low == high else f'{low} to {high}'}"
    )


def come_back(kind: str, share: float, days: int, chance: str) -> str:
    """Say how many of 100 repairs come back; `chance` ends the sentence.

    >>> come_back("overhauled window motors", 0.14, 90, "; chance alone gives 0 to 5")
    'Of 100 overhauled window motors about 14 come back within 90 days; chance alone gives 0 to 5.'
    """
    k = math.floor(share * 100 + 0.5)
    lead = "none" if share == 0 else "fewer than 1" if k == 0 else f"about {k}"
    return f"Of 100 {kind} {lead} {'comes' if k <= 1 else 'come'} back within {days} days{chance}."


def _kind(row: Row) -> str:
    """Name repairs of a kind: overhauled window motors."""
    noun = f"{row['action']} {several(row['component'])}"
    if row["part_origin"] == NO_PART:
        return f"{noun} without a new part"
    return noun if row["part_origin"] == "all" else f"{noun} (origin {row['part_origin']})"


def answer(rows: pl.DataFrame, days: int, until: date, *, of_one: bool) -> Said:
    """Say which repair comes back, or that none does so more often than chance gives.

    Parameters
    ----------
    rows
        As from `ready`, at least one.
    days
        The window.
    until
        The snapshot's day.
    of_one
        Whether a single component was asked for; then its surest row speaks in any case.
    """
    top = rows.row(0, named=True)
    told = rows.filter(~pl.col("thin"))
    if told.is_empty():
        said = f"Too little to say: {_so_far(rows)}."
        return Said("blank", said, _evidence("blank", rows, days, until), _not_counted(rows))
    if top["sure"] or of_one:
        only = rows.head(1)
        notes = (*more_than_chance(top), *_not_counted(only))
        return Said("ink", sentence(top, days), _evidence("ink", only, days, until), notes)
    said = f"No kind of repair comes back more often than chance could give: {_so_far(rows)} within {days} days."
    return Said("ink", said, _evidence("ink", rows, days, until), _not_counted(rows))


def more_than_chance(row: Row) -> tuple[str, ...]:
    """Say how many returns of a row that stands out are beyond chance, never of a safety-critical part (rule 39)."""
    excess, low, high = (row[name] for name in ("excess", "excess_lower", "excess_upper"))
    if row["verdict"] != MORE or row["status"] == SAFETY_CRITICAL or None in (excess, low, high) or low < 0:
        return ()
    limits = f"{words.whole(math.floor(low + 1e-9))} to {words.whole(math.ceil(high - 1e-9))}"
    return (f"About {words.two(excess)} more came back than chance gives (could be {limits}).",)


def _so_far(rows: pl.DataFrame) -> str:
    back, done = int(rows["returns"].sum()), int(rows["repairs"].sum())
    number = "none" if back == 0 else words.COUNTS[back] if back < len(words.COUNTS) else words.whole(back)
    return f"{number} of {words.count(done, 'repair')} came back"


def _evidence(state: words.State, rows: pl.DataFrame, days: int, until: date) -> str:
    back, done = int(rows["returns"].sum()), int(rows["repairs"].sum())
    facts = [f"**{words.whole(back)} came back**", f"{words.count(done, 'repair')} watched for {days} days"]
    if rows.height == 1:
        facts.append(words.count(int(rows["vehicles"][0]), "car"))
    return words.evidence(state, facts, until)


def _not_counted(rows: pl.DataFrame) -> tuple[str, ...]:
    """Say which repairs are not counted, so that no open window passes for a success."""
    counts = {name: int(rows[name].sum()) for name in NOT_COUNTED}
    told = [
        f"{words.COUNTS[n] if n < len(words.COUNTS) else n} {NOT_COUNTED[name][n > 1]}"
        for name, n in counts.items()
        if n
    ]
    return (f"Repairs not counted: {', '.join(told)}.",) if told else ()


def window(days: int, km: int) -> str:
    """Say what counts as coming back.

    >>> window(90, 1500)[:111]
    'A repair came back if the same failed within 90 days and 1500 km; where no km are known, the days alone count. '
    """
    within = f"{words.count_figure(days, 'day')} and {words.whole(km)} km"
    return (
        f"A repair came back if the same failed within {within}; where no km are known, the days alone count. "
        "What was found at an inspection is no return, though it counts as a failure on page Where it fails."
    )


def none_watched(frame: pl.DataFrame, days: int) -> tuple[str, tuple[str, ...]]:
    """Say that no repair was watched long enough, and what is missing."""
    single = frame.filter((pl.col("action") == "all") & (pl.col("part_origin") == "all"))
    return f"No repair has been watched for {days} days yet.", (*_not_counted(single), LOAD)


def captions(rows: pl.DataFrame) -> list[str]:
    """Say how the drawing is read, and what it leaves out."""
    fence = "Grey fence: what chance alone gives in 18 of 20 cases, the tick its middle. "
    told = [
        f"{fence if rows['chance_most'].count() else ''}Line: what the true number could be. Open mark: not to be told "
        "apart from chance. Diamond: more than chance, even with so many kinds of repair looked at. Visits at which no "
        "fault was found are not counted."
    ]
    if (rows["status"] == SAFETY_CRITICAL).any():
        told.append("Parts critical for safety have no fence: it would tell how long they last.")
    if (rows["status"] == NO_LIFE).any():
        told.append("Where no life is known, there is no fence to hold the returns against.")
    return told


def pairs(rows: pl.DataFrame, found: pl.DataFrame, records: pl.DataFrame, split: str) -> pl.DataFrame:
    """Return the repairs of these rows that came back, both jobs side by side, newest first.

    Parameters
    ----------
    rows
        As from `ready`.
    found
        Rows of ``return_pair``.
    records
        Rows of ``record``.
    split
        Key of `SPLITS`.
    """
    named = found if split == "part_origin" else found.with_columns(part_origin=pl.lit("all"))
    first = records.select(repair_record="record", first_job="record_id", first_part="part_no")
    second = records.select(return_record="record", second_job="record_id", then_done="action", second_part="part_no")
    return (
        named.join(
            rows.select("component", "action", "part_origin", "repair"), on=["component", "action", "part_origin"]
        )
        .join(first, on="repair_record", how="left")
        .join(second, on="return_record", how="left")
        .sort("returned_on", "repair_record", descending=True)
        .with_columns(position=pl.when(~pl.col("position_blank")).then("position"))
        .select(
            *("repair", "vehicle_id", "position", "first_job", "handed_on", "first_part"),
            *("second_job", "returned_on", "days", "km", "then_done", "second_part"),
        )
    )


def reach(rows: pl.DataFrame) -> int:
    """Return where the axis of the drawing ends, of 100 repairs."""
    ends = rows.select(pl.when(~pl.col("thin")).then("shown_upper"), "chance_most")
    most = max((value for column in ends for value in column.drop_nulls()), default=0.0)
    return next(end for end in AXIS_ENDS if most <= end + 1e-9)
