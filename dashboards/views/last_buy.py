"""How long a batch lasts: the last buy, or the smallest batch of a part that is made anew."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import layout
from dashboards.answers import last_buy

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, row: Row) -> None:
    """Show what each batch means, where the smallest order outlasts the delivery after the next; else nothing."""
    batches = snapshot.rows("supply_end", part_no=row["part_no"])
    if batches.height < 2:
        return
    st.header("How long does a batch last?", anchor=False)
    said = last_buy.told_of(batches, row, snapshot.as_of)
    layout.answer("last-buy", said.sentence, said.evidence, said.notes)
    layout.table("batches", last_buy.listed(batches, row), "What each batch means until the last year looked at")
    st.caption(last_buy.how_to_read(batches, row))
