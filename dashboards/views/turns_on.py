"""Below a life, folded: what the figure turns on, and when replacing before a failure pays."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import choices, layout, words
from dashboards.answers import life, turns_on

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

USUAL_RATIO = "5"


def show(snapshot: Snapshot, model: Row) -> None:
    """Show both for the group on the page; what the snapshot does not hold is left out."""
    _choices(snapshot, model)
    _planned(snapshot, model)


def _choices(snapshot: Snapshot, model: Row) -> None:
    rows = snapshot.rows("sensitivity", component=model["component"])
    if rows.height < 2:
        return
    with st.expander("What this figure turns on"):
        st.caption(
            "The median life of all such parts together, if something else had been counted. As shown, a car is "
            "watched to the last visit that the part did not cause."
        )
        layout.table("choices", turns_on.choices(rows), "Median life by what was counted")
        seen = model["events_seen"]
        used = model["events_used"] / seen if seen else None
        least = float(snapshot.named.get("window_used_share", life.LEAST_USED))
        for sentence in turns_on.turning_points(rows, used, least):
            st.caption(words.plain(sentence))


def _planned(snapshot: Snapshot, model: Row) -> None:
    group = {name: model[name] for name in ("component", "grouping", "level", "scale")}
    rows = snapshot.rows("planned_replacement", **group)
    if rows.is_empty():
        return
    with st.expander("Replacing it before it fails"):
        ratios = {f"{ratio:g}": ratio for ratio in rows["cost_ratio"].to_list()}
        asked = "A failure costs so many times a planned replacement"
        ratio = choices.side_by_side("ratio", asked, [*ratios], first=USUAL_RATIO, said=lambda r: f"{r} times")
        row = rows.filter(rows["cost_ratio"] == ratios[ratio]).row(0, named=True)
        sentence, notes = turns_on.planned(row)
        st.markdown(words.unbroken(words.plain(sentence)))
        for note in notes:
            st.caption(words.plain(note))
