"""Beside a life: whether age or distance wears the part, and which of its kinds last longer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import words
from dashboards.answers import told_apart

if TYPE_CHECKING:
    from dashboards.data import Snapshot

FAILURES = 10
SURE = 0.05


def scale_first(snapshot: Snapshot, component: str) -> str:
    """Return the scale to begin with: distance where the records say so, else age."""
    rows = snapshot.rows("scale_choice", component=component)
    return "distance" if rows.height and rows["verdict"].item(0) == "distance" else "age"


def wears_by(snapshot: Snapshot, component: str) -> None:
    """Say whether age or distance wears it."""
    for row in snapshot.rows("scale_choice", component=component).iter_rows(named=True):
        sentence = told_apart.wears_by(row, snapshot.number("scale_failures", FAILURES))
        st.caption(words.unbroken(words.plain(sentence)))


def show(snapshot: Snapshot, component: str, grouping: str, scale: str) -> None:
    """Say which kinds last longer, and which way of taking them tells them apart best."""
    pairs = snapshot.rows("comparison", component=component, scale=scale)
    sure = float(snapshot.named.get("difference_p", SURE))
    for sentence in told_apart.told_apart(pairs, grouping, sure):
        st.caption(words.plain(sentence))
