"""What readings taken at checks say: the second question of the page, where there are any."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import choices, layout
from dashboards.answers import readings
from dashboards.charts.readings import readings_over_years

if TYPE_CHECKING:
    from dashboards.data import Snapshot


def show(snapshot: Snapshot) -> None:
    """Draw it; without a reading there is no such question."""
    drifts = snapshot.rows("reading_drift")
    if drifts.is_empty():
        return
    st.divider()
    st.header("What do the readings say?", anchor=False)
    rows = {readings.title_of(row): row for row in drifts.iter_rows(named=True)}
    most = drifts.sort("readings", "component", "unit", descending=[True, False, False])
    gauge = choices.one_of("gauge", "Reading of", list(rows), first=readings.title_of(most.row(0, named=True)))
    row = rows[gauge]
    layout.caution(layout.cautions_of(snapshot, row["component"]))
    said = readings.answer(row, snapshot.as_of)
    layout.answer("readings", said.sentence, said.evidence, said.notes)
    taken = snapshot.rows("check_reading", component=row["component"], unit=row["unit"])
    records = snapshot.rows("record").select("record", "record_id")
    chart = readings_over_years(taken.join(records, on="record", how="left"), row["unit"])
    tapped = layout.drawing(f"readings-{gauge}", chart, "Readings over the years, with the limits stated for them")
    layout.records(
        "readings", readings.listed(taken, records), [mark["record_id"] for mark in tapped], hint="Tap a reading."
    )
