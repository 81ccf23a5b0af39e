"""How often a slot's part fails over the years, in words."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl

from analytics.counting import WHOLE_FROM, watched
from dashboards import words
from dashboards.answers import trends
from dashboards.answers.apart import SLOTS
from dashboards.answers.curves import UNITS
from dashboards.answers.said import CARS, NO_SLOT, Said, place_of, series_named

if TYPE_CHECKING:
    from datetime import date

    from dashboards.answers.apart import Apart
    from dashboards.answers.said import Row
    from dashboards.words import State

FIRM = 5
"""Failures from which a rate is in ink, and a trend is looked for."""

FOUND = "found at inspection"

DIFFER = 0.05
MOST_PAIRS = 3

PER = 10

UNTOLD = "slot not recorded"
"""Row of failures whose record names none of a component's slots, so that the rows add up."""


def median_gap(row: Row) -> str:
    """Say how long it usually takes to the next failure at the same slot."""
    days = row["median_interval_days"]
    return "not reached" if days is None else words.reach(days, "age")


def table(intervals: pl.DataFrame, apart: Apart = SLOTS, *, safety: bool = False) -> pl.DataFrame:
    """Return the failure intervals of one component in words and figures, most failures first.

    Of a safety-critical part no usual gap is told: it would be read as a life (rule 39).
    """
    named = intervals.filter(~pl.col("position").is_in(NO_SLOT)).height
    rows = listed(intervals)
    unplaced = without_slot(intervals)
    rest = {apart.noun: UNTOLD, "failures": unplaced, "trend": "counts in all slots alone"}
    told = pl.DataFrame(
        {
            apart.noun: [
                slot_name(c, p, named > 0, apart) for c, p in rows.select("component", "position").iter_rows()
            ],
            "failures": rows["failures"],
            "cars": rows["vehicles"],
            "car-years": [round(y, 0 if y >= WHOLE_FROM else 1) for y in rows["vehicle_years"]],
            "a year in 100 cars": [_rate(row) for row in rows.iter_rows(named=True)],
            "known": [known(row) for row in rows.iter_rows(named=True)],
            "usual gap": [median_gap(row) for row in rows.iter_rows(named=True)],
            "trend": [trends.in_table(row) for row in rows.iter_rows(named=True)],
        }
    )
    if unplaced:
        told = pl.concat([told, pl.DataFrame([rest]).cast({"failures": told.schema["failures"]})], how="diagonal")
    return told.drop("usual gap") if safety else told


def listed(intervals: pl.DataFrame) -> pl.DataFrame:
    """Return the rows of one component that a table lists, most failures first; one row where it names no slot."""
    named = intervals.filter(~pl.col("position").is_in(NO_SLOT)).height
    kept = intervals if named else intervals.sort("position").head(1)
    return kept.sort("failures", "position", descending=[True, False])


def without_slot(intervals: pl.DataFrame) -> int:
    """Count the failures of a component whose record names none of its slots.

    Notes
    -----
    A slot that was filled in for the lives of units is no evidence that this slot fails more; such a failure counts
    in all slots together, and in none of their own.
    """
    named = ~pl.col("position").is_in(NO_SLOT)
    every, own = intervals.filter(pl.col("position") == "all"), intervals.filter(named)
    if every.is_empty() or own.is_empty():
        return 0
    return max(0, int(every["failures"].sum()) - int(own["failures"].sum()))


def known(row: Row) -> str:
    """Say how a rate is known, in the word of its state; of few cars, that too.

    >>> known({"failures": 9, "vehicles": 4, "vehicle_years": 20.0})
    'in pencil: few cars'
    """
    if row["vehicle_years"] <= 0:
        return words.STATES["blank"][1]
    if row["failures"] == 0:
        return words.STATES["one-sided"][1]
    why = "few failures" if row["failures"] < FIRM else "few cars" if row["vehicles"] < CARS else ""
    return f"{words.STATES['pencil'][1]}: {why}" if why else words.STATES["ink"][1]


def thin() -> pl.Expr:
    """Return whether few failures or few cars stand behind a row of ``failure_interval``."""
    return (pl.col("failures") < FIRM) | (pl.col("vehicles") < CARS)


def inspected(faults: pl.DataFrame, failures: int) -> str:
    """Say how many of a slot's failures were found at inspections: they count here, and not where repairs come back.

    Parameters
    ----------
    faults
        Rows of ``fault`` of the component and slot.
    failures
        Failures of the slot.
    """
    found = min(failures, faults.filter(pl.col("used") & (pl.col("reads_as") == FOUND)).height)
    if not found:
        return ""
    was = "was" if found == 1 else "were"
    return (
        f"{found} of {words.count_figure(failures, 'failure')} {was} found at inspection: counted here, but neither "
        "as a repair that came back nor as a failure that followed another (page Did it hold?)."
    )


def slot_name(component: str, position: str, several: bool, apart: Apart = SLOTS) -> str:
    """Name a slot in a list: a component without named slots goes by its own name."""
    if position not in NO_SLOT:
        return apart.named(position)
    return apart.whole if several else component


def _rate(row: Row) -> str:
    rate, low, high = (row[n] for n in ("rate_per_100_vehicle_years", "rate_lower", "rate_upper"))
    if rate is None:
        return "not known"
    return (
        words.two(rate) if low is None or high is None else f"{words.two(rate)} ({words.two(low)} to {words.two(high)})"
    )


def slot_answer(interval: Row, until: date, unplaced: int = 0, apart: Apart = SLOTS) -> Said:
    """Say how often it fails.

    Parameters
    ----------
    interval
        Row of ``failure_interval``.
    until
        The snapshot's day.
    unplaced
        As from `without_slot`.
    """
    said = _said(interval, until, place_of(interval["component"], apart.named(interval["position"])))
    if not unplaced or interval["position"] in NO_SLOT:
        return said
    more = words.first_up(words.count(unplaced, "more failure names", "more failures name"))
    note = f"{more} no slot: counted in all slots together, so that each slot may fail more often than its own figure."
    return replace(said, notes=(*said.notes, note))


def _said(interval: Row, until: date, who: str) -> Said:
    facts = [
        f"**{words.count(interval['failures'], 'failure')}**",
        words.count(interval["vehicles"], "car"),
        watched(interval["vehicle_years"], "car-years"),
    ]
    rate, low, high = (interval[n] for n in ("rate_per_100_vehicle_years", "rate_lower", "rate_upper"))
    if rate is None or interval["vehicle_years"] <= 0:
        counted = words.count(interval["failures"], "failure")
        said = f"{words.first_up(who)}: {counted}, and no time watched to set it against."
        return Said("blank", said, words.evidence("blank", facts, until))
    if interval["failures"] == 0:
        upper = f": up to {words.two(high)} a year in 100 cars is still possible" if high is not None else ""
        said = f"{words.first_up(who)}: no failure in {watched(interval['vehicle_years'], 'car-years')}{upper}."
        return Said("one-sided", said, words.evidence("one-sided", facts, until))
    within = f" (could be {words.two(low)} to {words.two(high)})" if low is not None and high is not None else ""
    said = f"{words.first_up(who)}: about {words.two(rate)} failures a year in 100 cars{within}."
    state: State = "ink" if interval["failures"] >= FIRM else "pencil"
    notes = (trends.told(interval),)
    if interval["failures"] < FIRM:
        notes = (words.of_needed(interval["failures"], FIRM),)
    return Said(state, said, words.evidence(state, facts, until), notes)


def no_curve(cars: int, least: int) -> str:
    """Say why no curve is drawn, and how many cars more it takes."""
    if cars < least:
        few = words.first_up(words.count(cars, "car is known", "cars are known"))
        return f"No curve: it takes {words.COUNTS[least]} cars of known age watched at one age. {few} so far."
    return f"No curve: the cars' ages are not known, or fewer than {words.COUNTS[least]} were watched at any one age."


def counted_from(start: float, scale: str) -> str:
    """Say from which age or distance of the cars on a curve counts, empty where it counts from new."""
    if start <= 0:
        return ""
    whose = "an age of " if scale == "age" else ""
    since = f"Counted from {whose}{words.reach(start, scale)} on"
    return f"{since}, where enough cars are watched: what failed before is not in it."


def lines(curves: pl.DataFrame, intervals: pl.DataFrame, scale: str, apart: Apart = SLOTS) -> pl.DataFrame:
    """Return the mean cumulative curves of one grouping in shown units, per 10 cars, each from 0 at its start."""
    counted = intervals.select(level="position", failures="failures", few=thin()).unique("level")
    rows = curves.select(
        "level", pl.col("time") / UNITS[scale][1], *(pl.col(c) * PER for c in ("mcf", "lower", "upper")), "events"
    )
    named = intervals.filter(~pl.col("position").is_in(NO_SLOT)).height
    whole = slot_name(intervals["component"][0], "all", named > 0, apart)
    names = {level: apart.named(level) for level in rows["level"].unique()}
    total = rows.group_by("level").agg(drawn=pl.col("events").sum())
    return (
        rows.drop("events")
        .join(counted, on="level", how="left")
        .join(total, on="level", how="left")
        .with_columns(
            failures=pl.coalesce("failures", "drawn"),
            few=pl.coalesce("few", pl.col("drawn") < FIRM),
            label=pl.when(pl.col("level").is_in(NO_SLOT))
            .then(pl.lit(whole))
            .otherwise(pl.col("level").replace_strict(names, return_dtype=pl.String)),
        )
        .sort("level", "time")
        .select("level", "label", "time", "mcf", "lower", "upper", "failures", "few")
    )


def differing(pairs: pl.DataFrame) -> list[str]:
    """Say which slots, and which series, fail more often, and how many comparisons show no difference.

    Parameters
    ----------
    pairs
        Rows of ``interval_comparison`` of one component.
    """
    told = pairs.filter(pl.col("adjusted_p") < DIFFER).sort("adjusted_p", "grouping", "level_a", "level_b")
    said = [more_often(row) for row in told.head(MOST_PAIRS).iter_rows(named=True)]
    if told.height > MOST_PAIRS:
        said.append(f"{words.first_up(words.count(told.height - MOST_PAIRS, 'more pair'))} differ as surely.")
    rest = pairs.filter(pl.col("p_value").is_not_null() & ~(pl.col("adjusted_p") < DIFFER))
    if rest.is_empty():
        return said
    which = "more pair" if said else "pair"
    first = words.first_up(words.count(rest.height, f"{which} of slots or series", f"{which}s of slots or series"))
    at, why = "", ""
    if (rest["grouping"] == "series").any():
        at, why = ", series at one age of their cars", " The rates of series above are of the ages their cars had."
    return [*said, f"{first} compared{at}: no difference beyond chance. Chance is judged by whole cars.{why}"]


def more_often(pair: Row) -> str:
    """Say of one pair how many times as often the one fails as the other, the more frequent one first."""
    a, b, times, low, high = (pair[n] for n in ("level_a", "level_b", "rate_ratio", "lower", "upper"))
    of_series = pair["grouping"] == "series"
    a, b = (series_named(name) if of_series else name for name in (a, b))
    at = " at the same age of the car" if of_series else ""
    counts = f"{pair['failures_b']} and {words.count_figure(pair['failures_a'], 'failure')}"
    if times is not None and times < 1:
        a, b, times, low, high = b, a, _over(times), _over(high), _over(low)
        counts = f"{pair['failures_a']} and {words.count_figure(pair['failures_b'], 'failure')}"
    stands = f"after allowing for {words.count(pair['comparisons'], 'comparison')}"
    if low is None or low <= 1:
        often = f"could be {words.two(low)} to {words.two(high)} times as often; " if low and high else ""
        return f"{words.first_up(b)} fails more often than {a}{at} ({often}{counts}), {stands}."
    if times is None or high is None:
        return f"{words.first_up(b)} fails at least {words.two(low)} times as often as {a}{at} ({counts}), {stands}."
    limits = f"could be {words.two(low)} to {words.two(high)}; {counts}"
    return f"{words.first_up(b)} fails {words.two(times)} times as often as {a}{at} ({limits}), {stands}."


def _over(times: float | None) -> float | None:
    return 1 / times if times else None
