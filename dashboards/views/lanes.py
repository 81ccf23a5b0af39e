"""One car's lanes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import layout, words
from dashboards.answers import car as told
from dashboards.charts.lanes import car_lanes

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

MOST_LANES = 12
KEY = (
    "◆ fault · ○ changed in passing · ■ planned · △ checked, good · ▽ inspected, not called good · "
    "✚ no fault found · ▶ fitted when last seen · dotted: start unknown · thin lines: visits"
)


def show(snapshot: Snapshot, car: Row) -> None:
    """Draw the car's sentence, its lanes and its records."""
    who = car["vehicle_id"]
    records, units = snapshot.rows("record", vehicle_id=who), snapshot.rows("unit_now", vehicle_id=who)
    spells = snapshot.rows("spell", vehicle_id=who, scale="age")
    bars = told.with_labels(told.fitted_parts(spells, units, records, car))
    marks = told.events(records, snapshot.rows("fault", vehicle_id=who), bars.select("component", "position"))
    said = told.car_answer(car, marks, bars, snapshot.as_of)
    layout.answer("car", said.sentence, said.evidence, said.notes)
    _left(snapshot, units)
    chosen = _lanes(snapshot, car, bars, marks, records)
    listed = records.sort("closed_on", "record").select(
        "record_id", "closed_on", "odometer_km", "component", "position", "action", "reason", "part_no", "location"
    )
    layout.records("car", listed, chosen, hint="Tap a mark to see its record.")


def _left(snapshot: Snapshot, units: pl.DataFrame) -> None:
    left = told.left_faults(units)
    if left:
        st.markdown(f"**Found and left:** {words.plain('; '.join(left))}.")
        found = units.filter(pl.col("state") == "fault found and left")["component"].unique().sort().to_list()
        layout.caution(layout.cautions_of(snapshot, *found))


def _lanes(snapshot: Snapshot, car: Row, bars: pl.DataFrame, marks: pl.DataFrame, records: pl.DataFrame) -> list[str]:
    if car["first_seen"] == snapshot.as_of or bars.is_empty():
        return []
    marked = told.busy_first(bars, marks)
    if marked.is_empty():
        st.caption("No record names a part of this car.")
        return []
    busy = marked["lane"].n_unique()
    every = busy > MOST_LANES and st.toggle(f"Every one of the {busy} slots with a record", key="every")
    shown = marked if every else told.busy_first(bars, marks, MOST_LANES)
    visits = told.visit_days(records, snapshot.rows("reading", vehicle_id=car["vehicle_id"]))
    drawn = marks.filter(pl.col("lane").is_in(shown["lane"].unique().to_list()))
    st.caption(KEY)
    tapped = layout.drawing(
        f"lanes-{car['vehicle_id']}",
        car_lanes(shown, drawn, visits, first=car["first_seen"], last=snapshot.as_of),
        "Lanes of fitted parts and records of one car over time",
    )
    quiet = bars["lane"].n_unique() - busy
    if quiet:
        st.caption(f"{words.first_up(words.count(quiet, 'other slot'))} of this car: nothing recorded so far.")
    return [row["record_id"] for row in tapped]


def odometer(snapshot: Snapshot, car: Row) -> None:
    """List the odometer figures and what was made of them."""
    readings = snapshot.rows("reading", vehicle_id=car["vehicle_id"])
    if readings.is_empty():
        return
    with st.expander("Odometer figures, and what was made of them"):
        shown = readings.sort("read_on").select(
            on="read_on", seen_at="seen_at", odometer="odometer", unit="odometer_unit", km="total_km", verdict="verdict"
        )
        layout.table("odometer", shown, "Odometer figures and what was made of them")
