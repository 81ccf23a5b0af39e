"""How often each slot fails over the years."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import left_out, numbers, slots, trends
from dashboards.answers.apart import BY, SLOTS
from dashboards.answers.curves import UNITS
from dashboards.answers.said import NO_SLOT, told_of_fleet
from dashboards.charts.recurrence import slots_over_time

if TYPE_CHECKING:
    from dashboards.answers.apart import Apart
    from dashboards.data import Snapshot

LEAST = 5
LOAD = "Load repairs of a failed part, of cars seen at least twice: each of their lines tells component and reason."


def show(snapshot: Snapshot) -> str:
    """Draw the second question of the page, one component by slot or series; return it, empty where there is none."""
    st.divider()
    st.header("Slot by slot over the years", anchor=False)
    every = snapshot.rows("failure_interval")
    if every.is_empty():
        layout.blank("slots", "Too little to say.", ("No failure was recorded while a car was being watched.", LOAD))
        return ""
    component, apart, focus, intervals = _chosen(every)
    row = intervals.filter(pl.col("position") == focus).row(0, named=True)
    said = slots.slot_answer(row, snapshot.as_of, slots.without_slot(intervals), apart)
    whole = [] if focus in NO_SLOT else intervals.filter(pl.col("position") == "all").to_dicts()
    said = told_of_fleet(said, row["vehicles"], snapshot.as_of)
    faults = apart.faults(snapshot.rows("fault", component=component), focus)
    found = slots.inspected(faults, row["failures"])
    together = [trends.told(all_of_them, f"{words.first_up(apart.whole)} together") for all_of_them in whole]
    notes = (*said.notes, *together, found, left_out.told(faults, row["events_seen"], row["events_used"]))
    layout.answer("slots", said.sentence, said.evidence, tuple(filter(None, notes)))
    _draw(snapshot, apart, focus, intervals)
    layout.table(
        "slot-table",
        slots.table(intervals, apart, safety=layout.safety_critical(snapshot, component)),
        f"Failure intervals by {apart.noun}",
    )
    take_along.offer("slots", snapshot, numbers.of_slots(intervals, apart), component, apart.noun)
    for sentence in slots.differing(snapshot.rows("interval_comparison", component=component)):
        st.caption(words.plain(sentence))
    layout.caution(layout.cautions_of(snapshot, component))
    return component


def _chosen(every: pl.DataFrame) -> tuple[str, Apart, str, pl.DataFrame]:
    """Choose a component, what its failures are told apart by, and a slot or series; and return the rows of these."""
    fleet = every.filter(pl.col("series") != "all")["series"].n_unique() > 1
    columns = st.columns([4, 3, 4] if fleet else [3, 4], vertical_alignment="bottom")
    with columns[0]:
        component = choices.component(every.filter(pl.col("series") == "all"))
    rows = every.filter(pl.col("component") == component)
    several = rows.filter(pl.col("series") != "all")["series"].n_unique() > 1
    with columns[-2]:
        apart = BY[choices.side_by_side("apart", "Told apart by", list(BY)[: 1 + several], first="slot")]
    intervals = apart.of(rows)
    names = intervals.sort("failures", "position", descending=[True, False])["position"].to_list()
    single = [name for name in names if name not in NO_SLOT]
    with columns[-1]:
        # the series of the places stands in the address as well
        key = "slot" if apart is SLOTS else "of-series"
        focus = choices.one_of(key, words.first_up(apart.noun), single or names[:1], said=apart.named)
    return component, apart, focus, intervals


def _draw(snapshot: Snapshot, apart: Apart, focus: str, intervals: pl.DataFrame) -> None:
    curves = snapshot.rows("mean_cumulative", component=intervals["component"][0])
    by_slot = curves.filter((pl.col("grouping") == apart.grouping) & (pl.col("level") == focus))
    grouping, level = (apart.grouping, focus) if by_slot.height else ("component", "all")
    drawn = curves.filter(pl.col("grouping") == grouping)
    of_it = drawn.filter(pl.col("level") == level)
    if of_it.is_empty():
        st.caption(slots.no_curve(snapshot.rows("vehicle").height, snapshot.number("risk_set_least", LEAST)))
        return
    scale = choices.scale(of_it)
    lines = slots.lines(drawn.filter(pl.col("scale") == scale), intervals, scale, apart)
    chart = slots_over_time(lines, focus=level, unit=UNITS[scale][0])
    layout.drawing(f"slots-{scale}", chart, f"Failures so far per 10 cars, one line per {apart.noun}", taps=False)
    dotted = " Dotted, in pencil: few failures or few cars." if lines["few"].any() else ""
    st.caption(
        "The number after a name counts its failures. Cars join and leave: the curve counts those then "
        f"watched.{dotted}"
    )
    since = slots.counted_from(of_it.filter(pl.col("scale") == scale)["counted_from"][0], scale)
    if since:
        st.caption(since)
