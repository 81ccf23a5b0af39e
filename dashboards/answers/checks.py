"""Where to look first, in words."""

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

NO_JOB = "No closed job names this complaint on this series."
NO_COMPLAINT = "No complaint is known yet."
LOAD = "Load repairs with column symptom filled in: what the owner said was wrong, in the same words each time."
TWO_CARS = "A complaint is listed once several cars had it in the same words, so that nobody's own words are shown."
SELECTION = "What a workshop never looks for is not in its records: if the first checks find nothing, think again."
OWN_JOBS = 5
MOST_ROWS = 9
MOST_TIED = 3
MOST_TOLD = 3
LEAST_MINUTES = 0.05
ALMOST = 19
"""Of 20: the most that may be called solved as long as a cause nobody met yet is possible."""


def named(complaints: pl.DataFrame) -> list[str]:
    """Return the complaints by name."""
    return complaints["complaint"].unique().sort().to_list()


def usual(orders: pl.DataFrame) -> tuple[str | None, str | None]:
    """Return complaint and series to begin with: most closed jobs, of those where the records prefer a first check."""
    if orders.is_empty():
        return None, None
    free = ~pl.col("safety_first")
    cells = orders.group_by("complaint", "series").agg(
        jobs=pl.col("own_jobs").first(),
        ranked=free.sum(),
        first_sure=(~pl.col("tied")).filter(free).first().fill_null(value=False),
    )
    best = cells.sort(pl.col("ranked") > 1, "first_sure", "jobs", "complaint", "series", descending=True)
    row = best.row(0, named=True)
    return row["complaint"], row["series"]


def first_answer(rows: pl.DataFrame, cars: int, needed: int, until: date) -> Said:
    """Say where to start, and how far that comes.

    Parameters
    ----------
    rows
        Rows of ``check_order`` of one complaint and series, in order of step.
    cars
        Cars behind them.
    needed
        Closed jobs from which a series speaks for itself.
    until
        The snapshot's day.
    """
    top = rows.row(0, named=True)
    own, others = top["own_jobs"], top["family_jobs"]
    state: words.State = "ink" if top["basis"] == "own" else "pencil"
    facts = [f"**{words.count(own, 'closed job')}**", words.count(cars, "car")]
    meaning = ""
    if top["basis"] == "family":
        facts.append(f"{words.count(others, 'job')} on the other series")
        meaning = "borrowed from the other series"
    line = words.evidence(state, facts, until, meaning)
    notes = (_borrowed(top, needed), _worlds(rows), worth(rows), _none_found(top), _minutes(rows), SELECTION)
    return Said(state, sentence(rows), line, tuple(filter(None, notes)))


def sentence(rows: pl.DataFrame) -> str:
    """Say which checks come first, and how many of 20 cars are solved by then."""
    safety = rows.filter("safety_first")
    ranked = list(rows.filter(~pl.col("safety_first")).iter_rows(named=True))
    first = ""
    if safety.height:
        parts = "part" if safety.height == 1 else "parts, by name"
        first = f"First the safety-critical {parts}: {all_of(safety['component'].to_list())}"
        if not ranked:
            return f"{first}. {_solved(safety.row(-1, named=True))}"
    tied = _tied(ranked)
    if tied:
        told = f"{all_of(tied, 'or')} first: the records do not prefer one."
        return f"{first}. Then {told}" if first else words.first_up(told)
    told = f"start at {ranked[0]['component']}"
    last = ranked[0]
    if len(ranked) > 1 and not ranked[1]["tied"]:
        last = ranked[1]
        told += f", then {last['component']}"
    solved = words.lower_first(_solved(last))
    return f"{first}. Then {told}: {solved}" if first else words.first_up(f"{told}: {solved}")


def _solved(row: Row) -> str:
    solved = min(words.still(row["found_by_now"]), ALMOST)
    when = "by then" if row["minutes_after"] is None else f"after {words.count_figure(_whole(row), 'minute')}"
    cars = (
        "fewer than 1 of 20 such cars is"
        if not solved
        else f"{solved} of 20 such cars {'is' if solved == 1 else 'are'}"
    )
    return f"{words.first_up(when)} {cars} solved."


def _whole(row: Row) -> int:
    return max(1, math.ceil(float(row["minutes_after"]) - 1e-9))


def _tied(ranked: list[Row]) -> list[str]:
    """Return the checks among which the records prefer none for the first place; empty where one is preferred."""
    names = []
    for row in ranked:
        names.append(row["component"])
        if not row["tied"] or len(names) == MOST_TIED:
            break
    return names if len(names) > 1 else []


def _borrowed(top: Row, needed: int) -> str:
    own = words.count(top["own_jobs"], "closed job")
    if top["basis"] == "family":
        told = f"this series borrows from the others: {words.count(top['family_jobs'], 'job')} with this complaint."
        return f"Pencilled in. With only {own} of its own, {told}"
    if top["basis"] == "few":
        told = "and there is no other series to borrow from"
        return f"Pencilled in: {top['own_jobs']} of the {needed} closed jobs needed for a firm figure, {told}."
    return ""


def _worlds(rows: pl.DataFrame) -> str:
    ranked = rows.filter(~pl.col("safety_first"))
    if ranked.height < 2:
        return ""
    top = ranked.row(0, named=True)
    after = " after these" if rows.height > ranked.height else ""
    return (
        f"{words.first_up(top['component'])} comes first{after} in {top['times_best_of_100']} of 100 plausible worlds."
    )


def worth(rows: pl.DataFrame) -> str:
    """Say what the first checks save, and which cost time, each made at its turn and not left to the end.

    Parameters
    ----------
    rows
        As in `first_answer`; the last check has no such value, and one that is safety-critical none that counts.
    """
    last = pl.col("step") < pl.col("step").max()
    ranked = rows.filter(~pl.col("safety_first") & last).drop_nulls("minutes_saved")
    costly = pl.col("minutes_saved") < -LEAST_MINUTES
    told = ranked.with_row_index().filter((pl.col("index") < MOST_TOLD) | costly)
    if told.is_empty():
        return ""
    said = [f"{row['component']} {_saves(row['minutes_saved'])}" for row in told.iter_rows(named=True)]
    worth_of = "What a check is worth at its turn, against leaving it to the end, on jobs that come so far"
    return f"{worth_of}: {', '.join(said)}."


def _saves(minutes: float) -> str:
    """Say what a check saves or costs.

    >>> _saves(33.05), _saves(-0.46), _saves(0.01)
    ('saves about 33 minutes', 'costs about 0.46 minutes', 'saves nothing')
    """
    if abs(minutes) < LEAST_MINUTES:
        return "saves nothing"
    return f"{'saves' if minutes > 0 else 'costs'} about {words.two(abs(minutes))} minutes"


def _none_found(top: Row) -> str:
    if not top["none_found"]:
        return ""
    jobs = words.first_up(words.count(top["none_found"], "further job"))
    left = "is left out" if top["none_found"] == 1 else "are left out"
    return f"{jobs} with this complaint ended without anything found, and {left}."


def _minutes(rows: pl.DataFrame) -> str:
    guessed = rows.filter(pl.col("minutes_from") == "typical")["component"].to_list()
    if rows["minutes"].null_count():
        return "No minutes of a check are known, so checks go by chance alone: state check_minutes of components."
    return f"The usual time of other checks stands in for {all_of(guessed)}: state check_minutes." if guessed else ""


def none_here(complaint: str, series: str, complaints: pl.DataFrame) -> tuple[str, tuple[str, ...]]:
    """Say that nothing is known of a complaint on a series, and what is known of it elsewhere."""
    of_it = complaints.filter(pl.col("complaint") == complaint)
    here = of_it.filter(pl.col("series") == series).height
    found = of_it.filter(pl.col("outcome") == "found").group_by("series").len().sort("series").rows()
    elsewhere = ", ".join(f"{name} ({words.count_figure(jobs, 'job')})" for name, jobs in found)
    lines = (f"On other series its cause was found: {elsewhere}.",) if elsewhere else ()
    if here:
        told = words.first_up(words.count(here, "closed job names", "closed jobs name"))
        return f"{told} this complaint on this series, and none a cause.", lines
    return NO_JOB, lines


def rungs(rows: pl.DataFrame) -> pl.DataFrame:
    """Return what the ladder draws: label, note, start, to and opened (where opening a place ends), tied, role.

    On a phone the label goes without the place, and the note is in figures alone.
    """
    known = pl.col("minutes").is_not_null()
    opening = pl.when(known).then("access_minutes").otherwise(0.0)
    cost = pl.when(known).then(pl.col("minutes") + opening).otherwise(1.0)
    solved = (pl.col("found_by_now") * words.OUT_OF + 0.5).floor().clip(upper_bound=ALMOST).cast(pl.Int64)
    minutes = pl.when(known).then(pl.format("{} min · ", cost.round(0).cast(pl.Int64))).otherwise(pl.lit(""))
    first = pl.when("safety_first").then(pl.lit("for safety: ")).otherwise(pl.lit(""))
    place = pl.when(pl.col("location").is_not_null()).then(pl.format(", {}", "location")).otherwise(pl.lit(""))
    shown = rows.head(MOST_ROWS)
    ends = shown.select(cost.cum_sum()).to_series()
    return shown.with_columns(
        to=ends,
        start=ends - shown.select(cost).to_series(),
        opened=ends - shown.select(cost - opening).to_series(),
        label=pl.format("{}  {}{}{}", "step", first, "component", place),
        label_short=pl.format("{}  {}{}", "step", first, "component"),
        note=pl.format("{}found by now in {} of 20", minutes, solved),
        note_short=pl.format("{}{} of 20", minutes, solved),
        role=pl.when("safety_first")
        .then(pl.lit("ochre"))
        .when(pl.col("basis") == "own")
        .then(pl.lit("petrol"))
        .otherwise(pl.lit("pencil")),
    )


def captions(rows: pl.DataFrame) -> tuple[str, ...]:
    """Say how to read the ladder."""
    shown = rows.head(MOST_ROWS)
    said = ["The stronger the colour of a rung, the likelier the cause; of 20: such cars that are solved by then."]
    covers = shown.filter(pl.col("access_minutes").fill_null(0.0) > 0)["cover"].unique(maintain_order=True).to_list()
    if covers:
        covers = [f"“{cover}”" for cover in covers]
        said.append(
            f"The thin beginning of a rung is the time to open {all_of(covers)}, once for all checks behind it."
        )
    if shown["tied"].any():
        said.append(
            "A dashed rung could as well come later: it is the best next one in fewer than 60 of 100 plausible worlds."
        )
    left = words.OUT_OF - min(words.still(rows["found_by_now"][-1]), ALMOST)
    said.append(f"After all of them {left} of 20 such cars {'is' if left == 1 else 'are'} still unsolved.")
    rest = rows.height - shown.height
    if rest:
        said.append(f"{words.first_up(words.count(rest, 'more check'))} in the snapshot's table “check_order”.")
    return (" ".join(said),)


def jobs(rows: pl.DataFrame, complaints: pl.DataFrame, records: pl.DataFrame) -> pl.DataFrame:
    """Return the closed jobs that ended at a check of the ladder, the newest first."""
    top = rows.row(0, named=True)
    of_it = complaints.filter(
        (pl.col("complaint") == top["complaint"]) & (pl.col("series") == top["series"]) & (pl.col("outcome") == "found")
    )
    told = records.select("record", "record_id", "position", "action", "part_no")
    return (
        of_it.join(told, on="record", how="left")
        .sort("closed_on", "record", descending=True)
        .select("record_id", "vehicle_id", "closed_on", "component", "position", "location", "action", "part_no")
    )


def several_causes(rows: pl.DataFrame, listed: pl.DataFrame) -> str:
    """Say why more records than jobs are listed.

    Parameters
    ----------
    rows
        As in `jobs`.
    listed
        As from `jobs`.
    """
    own = int(rows["own_jobs"][0])
    if listed.height <= own:
        return ""
    some = "The job" if own == 1 else "Some jobs"
    return f"{some} ended at two causes or more and {'is' if own == 1 else 'are'} listed at each of them."
