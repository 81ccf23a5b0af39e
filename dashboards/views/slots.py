"""How often each slot fails over the years."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import left_out, numbers, slots, trends
from dashboards.answers.curves import UNITS
from dashboards.answers.said import NO_SLOT, told_of_fleet
from dashboards.charts.recurrence import slots_over_time

if TYPE_CHECKING:
    from dashboards.data import Snapshot

LEAST = 5
LOAD = "Load repairs of a failed part, of cars seen at least twice: each of their lines tells component and reason."


def show(snapshot: Snapshot) -> str:
    """Draw the second question of the page, one component slot by slot; return it, empty where there is none."""
    st.divider()
    st.header("Slot by slot over the years", anchor=False)
    every = snapshot.rows("failure_interval", series="all")
    if every.is_empty():
        layout.blank("slots", "Too little to say.", ("No failure was recorded while a car was being watched.", LOAD))
        return ""
    columns = st.columns([3, 4], vertical_alignment="bottom")
    with columns[0]:
        component = choices.component(every)
    intervals = every.filter(pl.col("component") == component)
    names = intervals.sort("failures", "position", descending=[True, False])["position"].to_list()
    single = [n for n in names if n not in NO_SLOT]
    with columns[1]:
        focus = choices.one_of("slot", "Slot", single or names[:1])
    row = intervals.filter(pl.col("position") == focus).row(0, named=True)
    said = slots.slot_answer(row, snapshot.as_of, slots.without_slot(intervals))
    whole = [] if focus in NO_SLOT else intervals.filter(pl.col("position") == "all").to_dicts()
    said = told_of_fleet(said, row["vehicles"], snapshot.as_of)
    faults = slots.of_slot(snapshot.rows("fault", component=component), focus)
    found = slots.inspected(faults, row["failures"])
    together = [trends.told(every_slot, trends.WHOLE) for every_slot in whole]
    notes = (*said.notes, *together, found, left_out.told(faults, row["events_seen"], row["events_used"]))
    layout.answer("slots", said.sentence, said.evidence, tuple(filter(None, notes)))
    _draw(snapshot, component, focus, intervals)
    layout.table(
        "slot-table",
        slots.table(intervals, safety=layout.safety_critical(snapshot, component)),
        "Failure intervals slot by slot",
    )
    take_along.offer("slots", snapshot, numbers.of_slots(intervals), component)
    for sentence in slots.differing(snapshot.rows("interval_comparison", component=component)):
        st.caption(words.plain(sentence))
    layout.caution(layout.cautions_of(snapshot, component))
    return component


def _draw(snapshot: Snapshot, component: str, focus: str, intervals: pl.DataFrame) -> None:
    curves = snapshot.rows("mean_cumulative", component=component)
    by_slot = curves.filter((pl.col("grouping") == "position") & (pl.col("level") == focus))
    grouping, level = ("position", focus) if by_slot.height else ("component", "all")
    scales = [s for s in UNITS if s in curves.filter(pl.col("grouping") == grouping)["scale"].to_list()]
    none = slots.no_curve(snapshot.rows("vehicle").height, snapshot.number("risk_set_least", LEAST))
    if not scales:
        st.caption(none)
        return
    rows = curves.filter((pl.col("grouping") == grouping) & (pl.col("scale") == scales[0]))
    lines = slots.lines(rows, intervals, scales[0])
    if level not in lines["level"].to_list():
        st.caption(none)
        return
    chart = slots_over_time(lines, focus=level, unit=UNITS[scales[0]][0])
    layout.drawing("slots", chart, "Failures so far per 10 cars, one line per slot", taps=False)
    dotted = " Dotted, in pencil: few failures or few cars." if lines["few"].any() else ""
    st.caption(
        "The number after a name counts its failures. Cars join and leave: the curve counts those then "
        f"watched.{dotted}"
    )
    since = slots.counted_from(rows.filter(pl.col("level") == level)["counted_from"][0], scales[0])
    if since:
        st.caption(since)
