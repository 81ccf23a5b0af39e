"""Every stretch of a unit's life with what both scales share and what its distance turns on."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from analytics.spells.events import flags_of, numbers_of
from analytics.spells.fates import WHY_NONE, dates
from analytics.spells.stretches import TOLD_BY

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.spells.ages import Ages
    from analytics.spells.events import Numbers
    from analytics.spells.steps import Steps
    from analytics.spells.stretches import Lives

STATES = ("running", "after repair", "fault found and left")

CAUSE = {"changed in passing": "in passing"}
"""Words for what ended a spell, where they are not those of the reason."""


def stretch_facts(lives: Lives, ages: Ages, steps: Steps, variants: pl.DataFrame) -> pl.DataFrame:
    """Return one row per stretch, in order of position, unit and stretch.

    Parameters
    ----------
    lives
        Units' lives.
    ages
        What became of them by age.
    steps
        The repairs by number.
    variants
        As `unit_variants` returns them.

    Returns
    -------
    DataFrame
        stretch_id (1, 2, 3), slot_no, unit_no, stretch_no, built_on, whole_car, told_by, is_used; why_none (null where
        it has a spell); variant, part_no, variant_assumed, variant_told_by; cause, event; age_known, position_inferred,
        reason_recorded (true where watching ended); zero_on, began_on, start_on, last_on, lower_on; fit_step,
        fit_fault_on, start_step, start_fault_on, end_step (repair_no, 0 where watching ended, below 0 where papers
        tell); start_record, end_record (null if none), part_origin.
    """
    stretches, windows, events = lives.stretches, lives.windows, lives.events
    fates = ages.fates
    end_step = _of_events(numbers_of(events.told["end_step"]), np.where(fates.ended, stretches.end, -1))
    begun = _event_of(stretches.begin)
    ended = _event_of(np.where(fates.ended, stretches.end, -1))
    fault_on = events.told["fault_on"]
    inferred = flags_of(events.told["position_inferred"])
    position_inferred = _of_events(inferred, stretches.begin) | _of_events(inferred, stretches.end)
    start_step, fit_step = pl.Series(stretches.start_step), pl.Series(stretches.fit_step)
    numbers = pl.DataFrame(
        {
            "stretch_id": np.arange(1, stretches.slot.size + 1),
            "slot_no": stretches.slot + 1,
            "unit_no": stretches.unit_no,
            "stretch_no": stretches.stretch_no,
            "whole_car": windows.whole_car[stretches.window],
            "is_used": stretches.is_used,
            "age_known": stretches.age_known,
            "position_inferred": position_inferred,
            "event": fates.event.astype(np.int32),
            "fit_step": fit_step,
            "start_step": start_step,
            "end_step": end_step,
        }
    )
    texts = pl.DataFrame(
        {
            "told_by": pl.Series(TOLD_BY).gather(stretches.told_by),
            "why_none": pl.Series(WHY_NONE).gather(_event_of(ages.why_none - 1)),
            "cause": events.told.select(cause_of_end()).to_series().gather(ended).fill_null("window end"),
            "reason_recorded": events.told["reason_recorded"].gather(ended).fill_null(value=True),
            "start_record": steps.of("line_id", start_step),
            "end_record": steps.of("line_id", numbers["end_step"]),
            "part_origin": steps.of("part_origin", fit_step).fill_null("unknown"),
        }
    )
    days = pl.DataFrame(
        {
            "built_on": dates(windows.built_on[stretches.window]),
            "zero_on": dates(stretches.zero_on),
            "began_on": dates(stretches.began_on),
            "start_on": dates(stretches.start_on),
            "last_on": dates(fates.last_on),
            "lower_on": dates(fates.lower_on),
            "start_fault_on": fault_on.gather(begun),
            "fit_fault_on": fault_on.gather(_event_of(stretches.begin[stretches.unit])),
        }
    )
    return pl.concat([numbers, texts, days, variants], how="horizontal")


def unit_states(lives: Lives) -> pl.Series:
    """Return the state of each stretch's unit: fault found and left, after repair or running (rule 24)."""
    stretches, events = lives.stretches, lives.events
    unit, does = stretches.unit[stretches.current], events.flags("does")
    failed, left = np.zeros((2, stretches.slot.size), dtype=bool)
    failed[unit[events.flags("is_fault")]] = True
    # the last event of a unit at which it was looked at or worked on decides
    tells = does | (events.told["reads_as"] == "found at inspection").to_numpy()
    left[unit[tells]] = ~does[tells]
    return pl.Series(STATES).gather(np.where(left, 2, failed)[stretches.unit])


def cause_of_end() -> pl.Expr:
    """Return what an event is called that ends a spell."""
    modified = pl.when("modifies").then(pl.lit("modified"))
    return modified.otherwise(pl.col("reads_as").replace(CAUSE)).alias("cause")


def _of_events(values: NDArray[Any], rows: Numbers) -> NDArray[Any]:
    """Return the value of each event, 0 where there is none (a row below 0)."""
    if values.size == 0:
        return np.zeros(rows.size, dtype=values.dtype)
    return np.where(rows >= 0, values[rows], np.zeros(1, dtype=values.dtype))


def _event_of(rows: Numbers) -> pl.Series:
    """Return rows to gather, null (which gathers null) for those below 0."""
    return pl.select(pl.when(pl.Series(rows) >= 0).then(pl.Series(rows))).to_series()
