"""Show where it fails again and again.

Reads     : fault_location, fault, failure_interval, interval_comparison, mean_cumulative, before_after, vehicle, record
Shows     : the place that stands out, two plans, ranked places; slot by slot over the years; did a modification help
Empty case: says that no record names a place; without a plan of places, the ranks alone; of few faults, counts alone
"""

from __future__ import annotations

from dataclasses import replace

import polars as pl
import streamlit as st

from dashboards import choices, data, layout
from dashboards.answers import places
from dashboards.views import modified, plan, slots


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    st.title("Where does it fail again and again?", anchor=False)
    faults, found = snapshot.rows("fault"), snapshot.rows("fault_location")
    frame = places.ready(found) if found.height else found
    if frame.is_empty():
        layout.blank("where", *places.none_named(faults.height))
    else:
        _places(snapshot, frame, faults)
    modified.show(snapshot, above=slots.show(snapshot))


def _places(snapshot: data.Snapshot, frame: pl.DataFrame, faults: pl.DataFrame) -> None:
    usual = places.usual(frame)
    names = ["all", *sorted(s for s in frame["series"].unique() if s != "all")]
    columns = st.columns([2, 4, 4], vertical_alignment="bottom")
    with columns[0]:
        series = choices.one_of("series", "Series", names, first=usual[0])
    of_it = frame.filter(pl.col("series") == series)
    with columns[1]:
        basis = choices.basis(of_it["basis"].unique().sort().to_list(), usual[1])
    with columns[2]:
        wide = (
            len(set(of_it["wide"])) > 1
            and choices.side_by_side("fine", "Taken", ["single places", "wider areas"], first="single places")
            == "wider areas"
        )
    shown = places.of_level(of_it.filter(pl.col("basis") == basis), wide=wide)
    cars = snapshot.rows("vehicle") if series == "all" else snapshot.rows("vehicle", series=series)
    said = places.place_answer(shown, cars.height, snapshot.as_of)
    of_them = faults if series == "all" else faults.filter(pl.col("series") == series)
    without = places.no_place(of_them.height, of_them["location"].null_count())
    told = f"{without} {places.blanks_could(shown)}" if without else ""
    layout.say("where", replace(said, notes=tuple(filter(None, (*said.notes, told)))))
    tapped = plan.show(shown, places.MOST_ROWS, f"{series}-{basis}-{wide}")
    plan.faults(snapshot, series, tapped, frame.select("location", "parent").unique(), plan.hint(shown))
