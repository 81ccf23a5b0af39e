"""Were the forecasts of past days right? The backtest, where it was run."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import layout
from dashboards.answers import foresight
from dashboards.charts.shortage import stock_against_shortage
from dashboards.words import plain

if TYPE_CHECKING:
    from dashboards.data import Snapshot

TOLD = "Parts kept on the shelf against parts missing, by way of foretelling"
HOW = "Each mark is a bound: what should be enough in 10, 16, 18 and 19 of 20 cases. Lower and further left is better."


def show(snapshot: Snapshot, part: str) -> None:
    """Show how the forecasts of past days did, for all parts and for the one chosen."""
    st.divider()
    st.header("Were the forecasts of past days right?", anchor=False)
    scores = snapshot.rows_if_any("forecast_score")
    if scores.is_empty():
        st.markdown(foresight.NOT_YET)
        return
    said = foresight.told_of_all(scores, snapshot.as_of)
    layout.answer("foresight", said.sentence, said.evidence, [note for note in said.notes if note])
    scores, curves = foresight.shown(scores, snapshot.rows_if_any("shortage_curve").drop_nulls("missing"))
    if curves.height:
        layout.drawing("shortage", stock_against_shortage(curves, ours=foresight.AS_USED), TOLD, taps=False)
        st.caption(HOW)
    layout.table("ways", foresight.methods_listed(scores), "Every way of foretelling, the least loss first")
    of_part = foresight.told_of_part(scores, part)
    if of_part:
        st.markdown(f"**{plain(of_part)}**")
    layout.table("earned", foresight.parts_listed(scores), "Which way earned its place for which part")
