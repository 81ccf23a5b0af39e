"""Why a record or a unit gave no spell: counts by reason, so that used and left out add up to loaded."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.distance import NO_DISTANCE, NO_READING
from analytics.spells.events import numbers_of
from analytics.spells.fates import WHY_NONE

if TYPE_CHECKING:
    from analytics.spells.clocks import Clock
    from analytics.spells.events import Numbers
    from analytics.spells.steps import Steps
    from analytics.spells.variants import Variants

REPAIR = "repair not used for lives"
UNIT = "part not used for lives"
UNWATCHED = "repair not counted for returns"
PAPERS = "fitting told by papers, not used"
DISTANCE = {0: "part without a distance, not failed", 1: "part without a distance, failed"}
AGAINST = "odometer stated at a repair contradicts the car's readings"
ASIDE = "odometer figure set aside"

WHY = {
    "component not on this car": "the table of components gives the car no such position; counted nowhere",
    "position too often blank": "the component is counted for the car as a whole, without lives",
    "one with another order open at the same time": "orders open at once at one position are one event",
    "same fault as before": "a fault found and left is counted once, when it was found",
    "further failure of a unit after repair": "counted as a failure; the unit answers once until renewed",
    "unit is out of the life tables until renewed": "its fault was repaired, not answered by a renewal",
    "changed nothing": "neither a fault nor a renewal",
    "joining fault": "it was there before the car joined; the unit's life is left out",
    "after the last neutral visit": "nobody would have seen the others that lasted longer",
    "no neutral visit": "the car came in only because of this component",
    "no neutral visit after the car joined": "the car was not seen again",
    "fitted after the last neutral visit": "nothing is known of the unit since",
    "ended before the car was watched": "renewed on the first visit",
    "no time watched": "watched for less than a day",
    "used part fitted, its age is not known": "counted in the installed base, in no life",
    "car never seen here": "known from annual returns only",
    NO_READING: "the car's total km is not known at one end",
    NO_DISTANCE: "not driven between fitting and end",
    "nothing was done to it": "looked at only, or the part was not used after all",
    "its day is not known": "from a bare year or month no days can be counted",
    "the car left before": "nobody could have seen whether it came back",
    "not long enough ago": "its window is still open, which is no success yet",
}
"""What each reason means, in one sentence."""


def repairs_left_out(roles: pl.DataFrame) -> pl.DataFrame:
    """Return the repairs that neither start nor end a spell, by reason.

    Parameters
    ----------
    roles
        One row per repair: line_id, why_none (null where it starts or ends a spell).
    """
    return _by_reason(roles.select(pl.col("line_id").alias("record"), "why_none"), REPAIR)


def repairs_not_watched(repairs: pl.DataFrame) -> pl.DataFrame:
    """Return the repairs that are not watched for their return, by reason (rule 37).

    Parameters
    ----------
    repairs
        One row per repair: record, why_none (null where it is watched).
    """
    return _by_reason(repairs, UNWATCHED)


def units_left_out(why_none: Numbers, start_step: Numbers, steps: Steps) -> pl.DataFrame:
    """Return the units without a spell by age, by reason.

    Parameters
    ----------
    why_none
        Why each stretch of a unit's life gives none, a number of `fates.WHY_NONE`; 0 where it gives one.
    start_step
        Number of the repair that began each.
    steps
        The repairs by number.
    """
    without = np.flatnonzero(why_none)
    rows = pl.DataFrame(
        {
            "record": steps.of("line_id", pl.Series(start_step[without])),
            "why_none": pl.Series(WHY_NONE).gather(why_none[without] - 1),
        }
    )
    return _by_reason(rows, UNIT, out_of=why_none.size)


def papers_left_out(fittings: pl.DataFrame) -> pl.DataFrame:
    """Return the fittings told by papers that were not used, by reason.

    Parameters
    ----------
    fittings
        fate (``used`` or why not).
    """
    told = fittings.select(
        record=pl.lit(None, dtype=pl.String), why_none=pl.when(pl.col("fate") != "used").then("fate")
    )
    return _by_reason(told, PAPERS)


def distances_left_out(spells: pl.DataFrame, facts: pl.DataFrame, steps: Steps) -> pl.DataFrame:
    """Return the units with a spell by age and none by distance, failed and not failed apart (rule 29).

    Parameters
    ----------
    spells
        As `distance_spells` returns them.
    facts
        end_step: number of the repair that ended each.
    steps
        The repairs by number.
    """
    without = pl.concat([spells.select("event", "why_none"), facts.select("end_step")], how="horizontal").filter(
        pl.col("why_none").is_not_null()
    )
    rows = without.with_columns(record=steps.of("line_id", without["end_step"]))
    return pl.concat(
        _by_reason(rows.filter(pl.col("event") == event), kind, out_of=spells.filter(pl.col("event") == event).height)
        for event, kind in DISTANCE.items()
    )


def readings_left_out(clock: Clock) -> pl.DataFrame:
    """Return the odometer figures set aside, and those that stand against the car's clock."""
    figures = clock.reading
    verdict = pl.col("verdict")
    against = verdict.str.starts_with("used: ")
    aside = _counted(
        figures.filter(verdict.str.starts_with("set aside")).with_columns(
            kind=pl.format("{}: {}", pl.lit(ASIDE), verdict.str.strip_prefix("set aside: "))
        ),
        figures.height,
        "the distance is taken from the readings around it",
    )
    stated = figures.filter("stated")
    kept = _counted(
        stated.filter(against).with_columns(kind=pl.lit(f"{AGAINST}: off the clock")),
        stated.height,
        "the unit's distance is the stated one; the car's clock keeps to its readings",
    )
    of_day = figures.filter(~pl.col("stated")).select("vehicle_id", "read_on", of_day="total_km")
    below = (
        stated.filter(~against).join(of_day, on=["vehicle_id", "read_on"]).filter(pl.col("total_km") < pl.col("of_day"))
    )
    same_day = _counted(
        below.with_columns(kind=pl.lit(f"{AGAINST}: below the reading of its day")),
        stated.height,
        "the unit's distance is the stated one; the car's clock takes the greater from that day on",
    )
    return pl.concat([aside, kept, same_day])


def assumed(facts: pl.DataFrame, variants: Variants, steps: Steps, fittings: pl.DataFrame) -> pl.DataFrame:
    """Return what was taken as said though nobody said it exactly: origins, variants, days (rules 18 to 20).

    Parameters
    ----------
    facts
        One row per spell: stretch_id, start_step, fit_step.
    variants
        The designs of units.
    steps
        The repairs by number.
    fittings
        fate and told_days of the fittings told by papers.
    """
    begun = facts.filter(pl.col("start_step") > 0)
    ours = pl.DataFrame(
        {
            "seen_at": steps.of("line_id", begun["start_step"]),
            "origin": steps.part_origin(begun["fit_step"]),
        }
    )
    unsure = pl.col("origin").is_in(["unknown", "owner-supplied"])
    origins = ours.filter(unsure).select("seen_at", kind=pl.format("part of origin {}", "origin"))
    by_serial = facts.filter(variants.of("variant_assumed", numbers_of(facts["stretch_id"]) - 1))
    serials = by_serial.select(
        seen_at=steps.of("line_id", by_serial["start_step"]), kind=pl.lit("variant told by the serial")
    )
    used = fittings.filter(pl.col("fate") == "used")
    middles = used.filter(pl.col("told_days") > 0).with_columns(
        seen_at=pl.lit(None, dtype=pl.String), kind=pl.lit("day of fitting told as an interval")
    )
    return pl.concat(
        [
            _counted(origins, ours.height, "its age counts from the day of fitting"),
            _counted(serials, facts.height, "assumed of a car in care since new"),
            _counted(middles, used.height, "the middle of the interval is taken"),
        ]
    )


def _counted(rows: pl.DataFrame, out_of: int, says: str) -> pl.DataFrame:
    return (
        rows.group_by("kind")
        .agg(count=pl.len().cast(pl.Int64), example_record=pl.col("seen_at").min())
        .select(
            "kind",
            "count",
            out_of=pl.lit(out_of, dtype=pl.Int64),
            example_record="example_record",
            says=pl.lit(says),
        )
        .sort("kind")
    )


def _by_reason(rows: pl.DataFrame, kind: str, out_of: int | None = None) -> pl.DataFrame:
    """Count rows by ``why_none``; rows without are used. `out_of` counts rows that are not handed in as well."""
    return (
        rows.filter(pl.col("why_none").is_not_null())
        .group_by("why_none")
        .agg(count=pl.len().cast(pl.Int64), example_record=pl.col("record").min())
        .select(
            kind=pl.format("{}: {}", pl.lit(kind), "why_none"),
            count="count",
            out_of=pl.lit(rows.height if out_of is None else out_of, dtype=pl.Int64),
            example_record="example_record",
            says=pl.col("why_none").replace_strict(WHY, default="not used", return_dtype=pl.String),
        )
        .sort("kind")
    )
