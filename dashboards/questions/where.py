"""Show where it fails again and again.

Reads     : fault_location, fault, failure_interval, interval_comparison, mean_cumulative, before_after, vehicle, record
Shows     : the place that stands out, two plans, ranked places; slot by slot over the years; did a modification help
Empty case: says that no record names a place; without a plan of places, the ranks alone; of few faults, counts alone
"""

from __future__ import annotations

import streamlit as st

from dashboards import data, layout
from dashboards.answers import places
from dashboards.views import located, modified, slots


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    st.title("Where does it fail again and again?", anchor=False)
    faults, found = snapshot.rows("fault"), snapshot.rows("fault_location")
    frame = places.ready(found) if found.height else found
    if frame.is_empty():
        layout.blank("where", *places.none_named(faults.height))
    else:
        located.show(snapshot, frame, faults)
    modified.show(snapshot, above=slots.show(snapshot))
