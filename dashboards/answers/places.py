"""Where it fails again and again, in words."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers.said import CARS, Said, told_of_fleet

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from dashboards.answers.said import Row

SURE = 0.95
"""A place is named when it is this likely to have more faults than chance gives (methods B5)."""
STANDS_OUT = 0.05
"""...and when chance makes some place of the car stand out as much less often than this."""

MOST_ROWS = 9
AVERAGE = "average place"
BASES = {AVERAGE: "all places", "same place, other series": "the other series"}
"""How pages call what a place is compared with."""

OFTEN = ((9.0, "nearly always"), (3.0, "about every second time"), (0.0, "seldom"))
"""Faults expected at a place, and how often a place with three times as many is then noticed (methods B5)."""


def ready(frame: pl.DataFrame) -> pl.DataFrame:
    """Add what the drawings need: words, limits in faults, and whether a place is sure to have more than chance."""
    limits = ("shrunken_lower", "shrunken_upper") if "shrunken_lower" in frame.columns else ("lower", "upper")
    expected = pl.col("expected")
    parents = set(frame["parent"].drop_nulls())
    return (
        frame.filter(expected > 0)
        .with_columns(
            label=pl.col("name").fill_null(pl.col("location")),
            shown=pl.coalesce("shrunken_ratio", "ratio"),
            shown_lower=pl.col(limits[0]).fill_null(0.0),
            shown_upper=pl.col(limits[1]),
            least=pl.col("lower").fill_null(0.0) * expected,
            greatest=pl.coalesce(pl.col("upper") * expected, pl.col("observed")).cast(pl.Float64),
            sure=((pl.col("probability_above_one") > SURE) & (pl.col("scan_p") < STANDS_OUT)).fill_null(value=False),
            few=(pl.col("observed") > 0) & (pl.col("vehicles") < CARS),
            wide=pl.col("location").is_in(list(parents)),
            deck=pl.col("deck").fill_null("above"),
        )
        .sort("sure", "probability_above_one", "observed", "location", descending=[True, True, True, False])
    )


def of_level(frame: pl.DataFrame, *, wide: bool) -> pl.DataFrame:
    """Return single places, or the wider areas they are part of."""
    return frame.filter(pl.col("wide") == wide)


def usual(frame: pl.DataFrame) -> tuple[str, str]:
    """Return series and basis to begin with: where the surest place is, else everything."""
    sure = frame.filter(pl.col("sure") & ~pl.col("wide")).sort("shown", "location", descending=True)
    row = sure.row(0, named=True) if sure.height else None
    return (row["series"], row["basis"]) if row else ("all", AVERAGE)


def place_answer(frame: pl.DataFrame, cars: int, faults: int, until: date, lost: int = 0) -> Said:
    """Say which place stands out, or that none does.

    Parameters
    ----------
    frame
        As from `ready`, of one series, basis and level.
    cars
        Cars of the series.
    faults
        Faults of these cars that name a place.
    until
        The snapshot's day.
    lost
        As from `not_compared`.
    """
    told = words.count(faults, "fault")
    facts = [f"**{told}**", words.count(frame.height, "place"), words.count(cars, "car")]
    sure = frame.filter("sure")
    notes = tuple(
        filter(None, (counted_once(visits_of(frame), faults, lost), noticed(frame) if frame.height > 1 else ""))
    )
    if cannot_tell(frame):
        at = words.count(frame.filter(pl.col("observed") > 0).height, "place")
        sentence = f"No place can be told from another yet: {told} at {at}."
        return Said("blank", sentence, words.evidence("blank", facts, until), notes)
    behind = cars
    if sure.is_empty():
        sentence = (
            f"No place stands out: {told} at {words.count(frame.height, 'place')}, "
            "and none has more than chance could give."
        )
    else:
        top = sure.row(0, named=True)
        sentence, behind = place_sentence(top), min(cars, top["vehicles"])
    return told_of_fleet(Said("ink", sentence, words.evidence("ink", facts, until), notes), behind, until)


def counted_once(visits: int, faults: int, lost: int) -> str:
    """Say how faults become visits to a place, and how many visits cannot be compared on this basis."""
    said = []
    if visits + lost != faults:
        make = f"{words.whole(faults)} faults make {words.count_figure(visits + lost, 'visit')}"
        said.append(f"A place counts once a visit, however many parts failed there: {make}.")
    if lost:
        left = words.first_up(words.count(lost, "visit is", "visits are"))
        said.append(f"{left} left out: no car of another series was watched at that age.")
    return " ".join(said)


def not_compared(every: pl.DataFrame, shown: pl.DataFrame) -> int:
    """Count the visits to these places that cannot be compared with other series.

    Parameters
    ----------
    every, shown
        As from `ready`: rows of one series, and those shown.
    """
    at = pl.col("location").is_in(shown["location"].to_list())
    whole = every.filter((pl.col("basis") == AVERAGE) & at)
    return max(0, visits_of(whole) - visits_of(shown))


def visits_of(frame: pl.DataFrame) -> int:
    """Count the visits to these places once: those to an area within another one are counted there already."""
    within = pl.col("parent").is_in(frame["location"].to_list()).fill_null(value=False)
    return int(frame.filter(~within)["observed"].sum())


def cannot_tell(frame: pl.DataFrame) -> bool:
    """Return whether so few faults are known that even a place with three times as many would seldom be noticed.

    Where one place is sure all the same, it is told.
    """
    return not frame["sure"].any() and _typical(frame) < OFTEN[1][0]


def counts(frame: pl.DataFrame) -> pl.DataFrame:
    """Return on how many visits each place was at fault, most first, and nothing else."""
    seen = frame.filter(pl.col("observed") > 0).sort("observed", "label", descending=[True, False])
    return seen.select(place="label", visits="observed", cars="vehicles")


def _typical(frame: pl.DataFrame) -> float:
    """Return how many faults chance gives a usual place."""
    return float(frame["expected"].sort()[frame.height // 2])


def place_sentence(row: Row) -> str:
    """Say how many faults one place had."""
    limits = None if row["shown_upper"] is None else (row["shown_lower"], row["shown_upper"])
    if limits and not limits[0] <= row["shown"] <= limits[1]:
        limits = None  # the exact interval of the plain ratio would not hold the one shown
    said = words.times_expected(row["observed"], row["vehicles"], row["expected"], row["shown"], limits)
    return f"{words.first_up(row['label'])}: {said}"


def noticed(frame: pl.DataFrame) -> str:
    """Say how much these records could notice."""
    typical = _typical(frame)
    least = frame["detectable_ratio"].drop_nulls().sort()
    if least.len() and not cannot_tell(frame):
        times = words.two(float(least[least.len() // 2]))
        return f"With so many visits we could only be sure of places with about {times} times as many as by chance."
    often = next(said for least, said in OFTEN if typical >= least)
    said = (
        f"Chance gives a usual place a fault on about {words.two(typical)} "
        f"{'visit' if words.two(typical) == '1.0' else 'visits'} here: "
        f"a place with three times as many would be noticed {often}."
    )
    return f"{said} {_more(frame, typical)}" if typical < OFTEN[1][0] else said


def _more(frame: pl.DataFrame, typical: float) -> str:
    """Say how many visits more it takes until such a place is noticed every second time."""
    more = math.ceil(visits_of(frame) * (OFTEN[1][0] / typical - 1)) if typical > 0 else 0
    told = f"With faults on about {float(f'{more:.2g}'):.0f} more visits it would be noticed {OFTEN[1][1]}."
    return told if more else ""


def none_named(faults: int) -> tuple[str, tuple[str, ...]]:
    """Say that no place is known, and what to load."""
    if not faults:
        return "No fault is known yet.", ("Load repairs: a fault has a reason, and its place in column location.",)
    told = f"{words.first_up(words.count(faults, 'fault'))} so far, and none names a place on the car."
    return told, ("A place is named in column location of the records.",)


def with_parts(chosen: Sequence[str], tree: pl.DataFrame) -> list[str]:
    """Return these places and all that is part of them.

    Parameters
    ----------
    chosen
        Places.
    tree
        location, parent.
    """
    found, new = set(chosen), set(chosen)
    while new:
        new = set(tree.filter(pl.col("parent").is_in(list(new)))["location"]) - found
        found |= new
    return sorted(found)


def of_area_only(faults: int) -> str:
    """Say how many faults name a wider area and no single place."""
    if not faults:
        return ""
    told = words.first_up(words.count(faults, "fault names", "faults name"))
    return f"{told} a wider area alone: counted where wider areas are taken."


def no_place(faults: int, without: int, visits: int = 0) -> str:
    """Say how many faults name no place, and on how many visits they were found."""
    if not without:
        return ""
    names, are = ("names", "is") if without == 1 else ("name", "are")
    on = f" (on {words.count_figure(visits, 'visit')})" if visits not in (0, without) else ""
    return f"{without} of {words.count_figure(faults, 'fault')} {names} no place{on} and {are} not counted here."


def blanks_could(frame: pl.DataFrame) -> str:
    """Say whether the faults that name no place could change what stands out.

    Parameters
    ----------
    frame
        As from `ready`, of one series, basis and level.
    """
    if frame.is_empty() or not frame["blanks"].sum():
        return ""
    sure = frame.filter("sure")
    if sure.is_empty():
        least = frame["scan_p_blanks_here"].drop_nulls().sort().head(1).to_list()
        if least and least[0] < STANDS_OUT:
            return "If all of them belonged to one place, it would stand out."
        return "Even if all of them belonged to one place, it would not stand out."
    top = sure.row(0, named=True)
    who = "all of them belonged elsewhere"
    if top["basis"] != AVERAGE:
        who = "all those of the other series belonged here"
    if (top["scan_p_blanks_elsewhere"] or 0.0) < STANDS_OUT:
        return f"Even if {who}, {words.lower_first(top['label'])} would still stand out."
    return f"If {who}, {words.lower_first(top['label'])} might no longer stand out."
