"""Whether repairs held: one answer, a row per kind of repair, and the repairs that came back."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import held, numbers
from dashboards.charts.held import held_or_not

if TYPE_CHECKING:
    import polars as pl

    from dashboards.data import Snapshot

ALL = "all"


def show(snapshot: Snapshot) -> None:
    """Draw the first question of the page."""
    frame, days = snapshot.rows("repeat_repair"), snapshot.number("return_days", held.DAYS)
    watched = held.ready(frame, "action")
    if watched.is_empty():
        layout.blank("held", *held.none_watched(frame, days))
        return
    columns = st.columns([3, 4], vertical_alignment="bottom")
    with columns[0]:
        names = [ALL, *watched["component"].unique().sort()]
        component = choices.one_of("component", "Component", names, first=ALL, said=_named)
    with columns[1]:
        split = choices.side_by_side(
            "split", "Told apart", list(held.SPLITS), first="action", said=held.SPLITS.__getitem__
        )
    rows = held.ready(frame, split, component)
    said = held.answer(rows, days, snapshot.as_of, of_one=component != ALL)
    layout.say("held", said)
    st.caption(held.window(days, snapshot.number("return_km", held.KM)))
    shown = rows.head(held.MOST_ROWS)
    tapped = _draw(shown, days, f"{component}-{split}")
    rest = rows.height - shown.height
    if rest:
        st.caption(
            f"{words.first_up(words.count(rest, 'more kind of repair', 'more kinds of repair'))}: choose a component."
        )
    _records(snapshot, rows, split, tapped)
    take_along.offer("held", snapshot, numbers.of_repairs(rows), component, split)
    told = rows.filter(rows["repair"].is_in(tapped))["component"] if tapped else shown["component"]
    layout.caution(layout.cautions_of(snapshot, told[0]))


def _named(component: str) -> str:
    return "all components" if component == ALL else component


def _draw(shown: pl.DataFrame, days: int, name: str) -> list[str]:
    """Draw the rows; return those tapped."""
    chart = held_or_not(shown, days=days, end=held.reach(shown))
    tapped = layout.drawing(f"held-{name}", chart, "Repairs that came back, of 100, against what chance gives")
    for sentence in held.captions(shown):
        st.caption(words.plain(sentence))
    return [row["repair"] for row in tapped]


def _records(snapshot: Snapshot, rows: pl.DataFrame, split: str, tapped: list[str]) -> None:
    listed = held.pairs(rows, snapshot.rows("return_pair"), snapshot.rows("record"), split)
    layout.records(
        "held",
        listed,
        tapped,
        field="repair",
        hint="Tap a row.",
        nothing="No repair came back, so no record is listed.",
    )
