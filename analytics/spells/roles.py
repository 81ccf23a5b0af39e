"""What each repair did in the life tables, or why nothing, and the same in words per line."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import flags_of, numbers_of
from analytics.spells.facts import cause_of_end
from analytics.spells.fates import WHY_NONE
from analytics.spells.gathering import value_at, where

if TYPE_CHECKING:
    from analytics.spells.ages import Ages
    from analytics.spells.events import Numbers
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives

AFTER = "after the last neutral visit"
WHY_NO_ROLE = (
    *("component not on this car", "position too often blank", "one with another order open at the same time"),
    *("same fault as before", "further failure of a unit after repair", *WHY_NONE, AFTER),
    *("unit is out of the life tables until renewed", "changed nothing"),
)
"""Why a repair neither ends nor starts a spell, by number from 1 on."""
_UNIT, _OUT, _NOTHING = 6, len(WHY_NO_ROLE) - 1, len(WHY_NO_ROLE)
VISIT_ONLY = "no component: a visit only"


def repair_roles(lives: Lives, ages: Ages, steps: Steps) -> pl.DataFrame:
    """Return what each repair did in the life tables.

    Parameters
    ----------
    lives
        Units' lives.
    ages
        What became of the units by age.
    steps
        The repairs by number.

    Returns
    -------
    DataFrame
        One row per repair, by number: line_id, component, position; ends_unit (unit_no of the spell it ends; null if
        none), cause (how it ends it), starts_unit (unit_no of the spell it starts), fits_unit (unit_no of the unit it
        fitted, with a spell or without), why_none (null where it ends or starts a spell).
    """
    stretches, events = lives.stretches, lives.events
    event = events.of_repair
    number = np.arange(1, event.size + 1)
    told = [numbers_of(events.told[name]) for name in ("end_step", "start_step")]
    end_step, start_step = (value_at(values, event) for values in told)
    tells_end, tells_start = end_step == number, start_step == number
    current = value_at(stretches.current, event)
    ended, begun = value_at(events.ends, event), value_at(events.begins, event)
    why = np.where(ages.why_none == 0, 0, ages.why_none + _UNIT - 1)
    after = np.where((why == 0) & ~ages.fates.ended, WHY_NO_ROLE.index(AFTER) + 1, why)
    end_none, start_none = (
        np.where(ended, value_at(after, current), 0),
        np.where(begun, value_at(why, current + begun), 0),
    )
    ends = ended & (end_none == 0) & tells_end
    starts = begun & (start_none == 0) & tells_start
    fits = begun & tells_start & value_at(events.flags("renews"), event)
    is_fault, answered = value_at(events.flags("is_fault"), event), value_at(events.flags("answered"), event)
    # papers have no order that could tell
    other = (end_step > 0) & (start_step > 0) & ~tells_end & ~tells_start
    reasons = np.select(
        [
            ends | starts,
            ~flags_of(steps.told["has_slot"]),
            flags_of(steps.told["whole_car"]),
            other,
            is_fault & value_at(events.flags("open_fault"), event),
            is_fault & answered,
            end_none > 0,
            start_none > 0,
            answered,
        ],
        [0, 1, 2, 3, 4, 5, end_none, start_none, _OUT],
        default=_NOTHING,
    )
    unit_no = value_at(stretches.unit_no, current)
    cause = events.told.select(cause_of_end()).to_series()
    return steps.told.select("line_id", "component", "position").with_columns(
        ends_unit=where(ends, unit_no),
        cause=cause.gather(where(ends, event)),
        starts_unit=where(starts, value_at(stretches.unit_no, current + begun)),
        fits_unit=where(fits, value_at(stretches.unit_no, current + begun)),
        why_none=pl.Series(WHY_NO_ROLE).gather(where(reasons > 0, reasons - 1)),
    )


def line_notes(roles: pl.DataFrame, unit_line: pl.DataFrame, lines: int) -> pl.Series:
    """Return what each repair line did in the life tables, in words.

    Parameters
    ----------
    roles
        As `repair_roles` returns them.
    unit_line
        line_key, repair_no: the repairs that each line tells of.
    lines
        How many lines there are.
    """
    notes = roles.select(_in_words()).to_series()
    line, repair = numbers_of(unit_line["line_key"]) - 1, numbers_of(unit_line["repair_no"]) - 1
    count = np.bincount(line, minlength=lines)
    repair_of = np.full(lines, -1)
    # most lines belong to one repair
    alone = count[line] == 1
    repair_of[line[alone]] = repair[alone]
    said = notes.gather(where(repair_of >= 0, repair_of))
    several = _of_several(roles, notes, line[~alone], repair[~alone])
    if several.height:
        said = said.scatter(several["line"], several["said"])
    return said.fill_null(VISIT_ONLY).alias("spell_note")


def _in_words() -> pl.Expr:
    began = pl.col("starts_unit").is_not_null() & pl.col("fits_unit").is_null()
    return pl.concat_str(
        [
            pl.format("ended unit {} ({})", "ends_unit", "cause"),
            pl.format("fitted unit {}", "fits_unit"),
            pl.when(began).then(pl.format("began a new stretch of unit {}", "starts_unit")),
            pl.format("no spell: {}", "why_none"),
        ],
        separator="; ",
        ignore_nulls=True,
    ).alias("note")


def _of_several(roles: pl.DataFrame, notes: pl.Series, line: Numbers, repair: Numbers) -> pl.DataFrame:
    """Return the notes of lines that tell of several repairs, by position."""
    rows = pl.DataFrame(
        {"line": line, "repair": repair, "position": roles["position"].gather(repair), "note": notes.gather(repair)}
    )
    placed = pl.format("{}: {}", "position", "note").sort_by("position").str.join("; ")
    return (
        rows.unique()
        .group_by("line")
        .agg(said=pl.when(pl.len() == 1).then(pl.col("note").min()).otherwise(placed))
        .sort("line")
    )
