"""Where to look first for a complaint: caution, answer, ladder, and the closed jobs that ended at a rung."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import checks, numbers, replay
from dashboards.charts.ladder import check_ladder

if TYPE_CHECKING:
    from dashboards.data import Snapshot


def show(snapshot: Snapshot) -> None:
    """Draw the first question of the page."""
    orders, complaints = snapshot.rows("check_order"), snapshot.rows("complaint")
    names = checks.named(complaints)
    if not names:
        layout.blank("first", checks.NO_COMPLAINT, (checks.LOAD, checks.TWO_CARS))
        return
    complaint, series = _chosen(snapshot, orders, names)
    rows = orders.filter((pl.col("complaint") == complaint) & (pl.col("series") == series)).sort("step")
    if rows.is_empty():
        layout.blank("first", *checks.none_here(complaint, series, complaints))
        return
    layout.caution(layout.cautions_of(snapshot, *rows["component"]))
    listed = checks.jobs(rows, complaints, snapshot.rows("record"))
    needed = snapshot.number("check_own_jobs", checks.OWN_JOBS)
    layout.say("first", checks.first_answer(rows, listed["vehicle_id"].n_unique(), needed, snapshot.as_of))
    told = "Checks in order, with minutes and how many of 20 such cars are solved by then"
    tapped = layout.drawing(f"ladder-{complaint}-{series}", check_ladder(checks.rungs(rows)), told)
    tried = replay.replayed(snapshot.rows("check_replay"))
    for sentence in filter(None, (*checks.captions(rows), tried, checks.several_causes(rows, listed))):
        st.caption(words.plain(sentence))
    ended = [row["component"] for row in tapped]
    hint = "Tap a rung to see the closed jobs that ended there."
    layout.records("first", listed, ended, field="component", hint=hint)
    take_along.offer("checks", snapshot, numbers.of_checks(rows), complaint, series)


def _chosen(snapshot: Snapshot, orders: pl.DataFrame, names: list[str]) -> tuple[str, str]:
    """Choose a complaint and a series, of which one may have no job with it."""
    usual, on = checks.usual(orders)
    columns = st.columns([4, 2, 3], vertical_alignment="bottom")
    with columns[0]:
        if len(names) == 1:
            st.markdown(f"Complaint: **{words.plain(names[0])}**")
        complaint = choices.one_of("complaint", "Complaint", names, first=usual)
    of_it = orders.filter(pl.col("complaint") == complaint).unique("series", keep="first", maintain_order=True)
    most = of_it.sort("own_jobs", "series", descending=[True, False])["series"]
    first = on if complaint == usual else most[0] if most.len() else None
    fleet = snapshot.rows("vehicle")["series"].unique().sort().to_list()
    with columns[1]:
        series = choices.one_of("on-series", "Series", fleet, first=first)
    return complaint, series
