"""Tell one car's story.

Reads     : vehicle, record, spell, unit_now, fault, reading, part_for_car
Shows     : one sentence, a lane per place with a bar per fitted part and a mark per record, visits, odometer
            figures, which parts fit the car
Empty case: a car seen once has nothing to compare yet
"""

from __future__ import annotations

import streamlit as st

from dashboards import choices, data, layout
from dashboards.answers import car as told
from dashboards.views import lanes, which_part
from dashboards.words import plain

LOAD = "Load vehicles and repairs: every closed job of a car then stands on its line of time."


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    st.title("One car's story", anchor=False)
    cars = snapshot.rows("vehicle")
    if cars.is_empty():
        layout.blank("car", "No car has been seen yet.", (LOAD,))
        return
    busiest = cars.sort("visits", "vehicle_id", descending=[True, False])["vehicle_id"][0]
    who = choices.one_of("car", "Car", cars["vehicle_id"].to_list(), first=busiest)
    row = next(row for row in cars.iter_rows(named=True) if row["vehicle_id"] == who)
    st.caption(plain(told.title_of(row)))
    lanes.show(snapshot, row)
    lanes.odometer(snapshot, row)
    which_part.beside_story(snapshot, who)
