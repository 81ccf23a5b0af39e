"""What somebody thinks of a part's life beside what the records say, folded."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import layout, words
from dashboards.answers import opinion

if TYPE_CHECKING:
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, component: str) -> None:
    """Show the opinion on a component, where the feed states one."""
    rows = snapshot.rows("expert_opinion", component=component)
    if rows.is_empty():
        return
    row = rows.row(0, named=True)
    with st.expander("What an expert thinks, beside the records"):
        st.markdown(words.unbroken(words.plain(opinion.stated(row))))
        layout.table("opinion", opinion.beside(row), "Median life by the opinion, by the records and by both")
        for sentence in opinion.weighed(row):
            st.caption(words.plain(sentence))
