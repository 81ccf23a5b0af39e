"""Repairs and papers of each position as events in order of time, and the unit that each concerns (rules 9 to 12)."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import Events, days_of, flags_of, numbers_of
from analytics.spells.marks import SPAN

if TYPE_CHECKING:
    from analytics.spells.events import Flags, Numbers
    from analytics.spells.steps import Steps

FAULTS = ("failure", "found at inspection", "consequence")
"""Reasons that are faults, the strongest first."""

STRENGTH = (*FAULTS, "accident", "changed in passing", "planned", "no fault found")
"""Reasons, the strongest first: of several orders open at once the strongest counts."""

NOT_TOLD = 9
"""Strength of a reason that nobody recorded."""

STEP_COLUMNS = (
    *("slot_no", "repair_no", "visit_day", "fault_on", "closed_on", "reads_as", "reason_recorded", "does", "renews"),
    *("modified", "joining", "is_used", "position_inferred"),
)


def events_of(steps: Steps, papers: pl.DataFrame, slots: int) -> Events:
    """Return what happened at the positions: repairs whose orders were open at once are one event.

    Parameters
    ----------
    steps
        The repairs by number.
    papers
        Rows of ``fitting.sql``.
    slots
        How many positions there are.

    Notes
    -----
    A repair belongs to the event before it where its car came in for it before that event was handed over.
    """
    rows = _in_time(pl.concat([_repairs(steps), _later_papers(papers)], how="diagonal_relaxed"))
    slot = numbers_of(rows["slot_no"]) - 1
    fault_on, handed = days_of(rows["fault_on"]).astype(np.int64), days_of(rows["closed_on"])
    # one rising number: what was handed over last at the position so far
    reached = np.maximum.accumulate(slot * SPAN + handed)
    new = np.ones(slot.size, dtype=bool)
    new[1:] = (slot[1:] != slot[:-1]) | (slot[1:] * SPAN + fault_on[1:] >= reached[:-1])
    event = np.cumsum(new) - 1
    told = _merged(rows.with_columns(event=pl.Series(event, dtype=pl.Int64)), steps, new)
    repair = numbers_of(rows["repair_no"])
    event_of = np.full(steps.told.height, -1)
    event_of[repair[repair > 0] - 1] = event[repair > 0]
    return _of_units(told, slots, event_of)


def _repairs(steps: Steps) -> pl.DataFrame:
    """Return the repairs at positions of a car."""
    at_position = pl.col("slot_no").is_not_null() & ~pl.col("whole_car")
    return steps.told.filter(at_position).select(
        *(name for name in STEP_COLUMNS if name not in {"does", "is_used"}),
        step_no=pl.col("repair_no").cast(pl.Int64),
        does=~pl.col("action").is_in(["inspected", "none"]),
        is_used=(pl.col("part_origin") == "used").fill_null(value=False),
    )


def _later_papers(papers: pl.DataFrame) -> pl.DataFrame:
    """Return the fittings that papers tell of the time after the car joined: renewals of a part that had not failed."""
    later = papers.filter((pl.col("fate") == "used") & (pl.col("fitted_on") > pl.col("joined_on")))
    return later.select(
        "slot_no",
        pl.col("step_no").cast(pl.Int64),
        visit_day="fitted_on",
        fault_on="fitted_on",
        closed_on="fitted_on",
        reads_as=pl.lit("changed in passing"),
        **{name: pl.lit(value=True) for name in ("reason_recorded", "does", "renews")},
        **{name: pl.lit(value=False) for name in ("modified", "joining", "is_used", "position_inferred")},
    )


def _in_time(rows: pl.DataFrame) -> pl.DataFrame:
    number = rows["repair_no"].fill_null(np.iinfo(np.int32).max).to_numpy()
    keys = (days_of(rows["closed_on"]), days_of(rows["fault_on"]), numbers_of(rows["slot_no"]))
    return rows[np.lexsort((number, *keys))]


def _merged(rows: pl.DataFrame, steps: Steps, new: Flags) -> pl.DataFrame:
    """Return one row per event; few are several repairs."""
    single = new.copy()
    single[:-1] &= new[1:]
    several = ~single
    alone = rows.filter(pl.Series(single, dtype=pl.Boolean)).with_columns(
        from_papers=pl.col("repair_no").is_null(),
        **{f"{end}_step": pl.col("step_no") for end in ("end", "start", "removed", "place")},
    )
    if not several.any():
        return alone
    merged = _several(rows.filter(pl.Series(several, dtype=pl.Boolean)), steps)
    return pl.concat([alone.select(merged.columns), merged], how="vertical_relaxed").sort("event")


def _several(rows: pl.DataFrame, steps: Steps) -> pl.DataFrame:
    """Return the events that are several repairs: the strongest reason, the last part fitted."""
    strength = pl.col("reads_as").replace_strict(list(STRENGTH), range(1, len(STRENGTH) + 1), return_dtype=pl.Int64)
    told = rows.with_columns(
        strength=pl.when("reason_recorded").then(strength).otherwise(NOT_TOLD),
        number=pl.col("repair_no").fill_null(np.iinfo(np.int32).max),
        no_removed=steps.of("removed_part_no", rows["step_no"]).is_null(),
        no_place=steps.of("location", rows["step_no"]).is_null(),
    )
    by_reason = ["strength", "closed_on", "number"]
    by_part = [~pl.col("renews"), ~pl.col("modified"), -pl.col("closed_on").cast(pl.Int32), "number"]
    any_of, all_of = ("does", "renews", "modified", "joining"), ("position_inferred",)
    return told.group_by("event", maintain_order=True).agg(
        pl.col("slot_no").first(),
        pl.col("visit_day", "fault_on").min(),
        pl.col("closed_on").max(),
        pl.col(any_of).any(),
        pl.col(all_of).all(),
        pl.col("reads_as", "reason_recorded").sort_by(by_reason).first(),
        pl.col("is_used").sort_by(by_part).first(),
        from_papers=pl.col("repair_no").is_null().all(),
        end_step=pl.col("step_no").sort_by(by_reason).first(),
        start_step=pl.col("step_no").sort_by(by_part).first(),
        removed_step=pl.col("step_no").sort_by("no_removed", ~pl.col("renews"), "closed_on", "number").first(),
        place_step=pl.col("step_no").sort_by("no_place", *by_reason).first(),
    )


def _of_units(told: pl.DataFrame, slots: int, event_of: Numbers) -> Events:
    """Return the events with what had happened to the unit before."""
    slot = numbers_of(told["slot_no"]) - 1
    is_fault = pl.col("reads_as").is_in(FAULTS)
    read = told.with_columns(is_fault=is_fault, modifies=pl.col("modified") & ~pl.col("renews") & ~is_fault)
    renews, does, fault = (flags_of(read[name]) for name in ("renews", "does", "is_fault"))
    left = (read["reads_as"] == "found at inspection").to_numpy() & ~does
    first_of_slot = np.searchsorted(slot, np.arange(slots + 1))
    first = first_of_slot[slot]
    renewal, failed, deed, found = (_last_before(flags, first) for flags in (renews, fault, does, left))
    # a unit answers once (rule 10)
    answered = failed > renewal
    ends = ~answered & (fault | renews | flags_of(read["modifies"]))
    rows = read.with_columns(
        answered=pl.Series(answered, dtype=pl.Boolean),
        # a fault found and left was waiting (rule 11)
        open_fault=pl.Series(found > np.maximum(renewal, deed), dtype=pl.Boolean),
    )
    return Events(rows, slot, ends, renews | (ends & flags_of(read["modifies"])), event_of)


def _last_before(flags: Flags, first: Numbers) -> Numbers:
    """Return the row of the last flagged event before each at its position, -1 where there is none."""
    last = np.full(flags.size, -1)
    last[1:] = np.maximum.accumulate(np.where(flags, np.arange(flags.size), -1))[:-1]
    return np.where(last >= first, last, -1)
