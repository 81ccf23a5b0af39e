"""What fails next: one answer, an arrow between two components, which came first, and the records of both."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import follow_on, numbers
from dashboards.charts.follow_on import arrow, which_came_first

if TYPE_CHECKING:
    import polars as pl

    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

ALL = "all"


def show(snapshot: Snapshot) -> None:
    """Draw the second question of the page."""
    st.divider()
    st.header("What fails next?", anchor=False)
    frame, days = snapshot.rows("follow_on"), snapshot.number("follow_on_days", follow_on.DAYS)
    least = snapshot.number("follow_on_least", follow_on.LEAST)
    if frame.is_empty():
        layout.blank("next", *follow_on.no_pair(days, least))
        return
    after = choices.one_of(
        "after", "After a failure of", [ALL, *frame["first"].unique().sort()], first=ALL, said=_named
    )
    rows = follow_on.ready(frame, after)
    said = follow_on.answer(rows, frame, snapshot.as_of, least, asked=after != ALL)
    layout.say("next", said)
    shown = rows.head(follow_on.MOST_ROWS)
    tapped = _draw(shown, days, after) if said.state != "blank" else []
    _records(snapshot, rows, shown, tapped)
    take_along.offer("next", snapshot, numbers.of_pairs(rows), after)
    top = rows.filter(rows["pair"].is_in(tapped)).row(0, named=True) if tapped else rows.row(0, named=True)
    if top["verdict"] == follow_on.MORE or tapped or after != ALL:
        layout.caution(_cautions(snapshot, top))


def _named(component: str) -> str:
    return "any component" if component == ALL else component


def _draw(shown: pl.DataFrame, days: int, after: str) -> list[str]:
    """Draw the pair that stands, and the rows; return the pairs tapped."""
    top = shown.row(0, named=True)
    if top["verdict"] == follow_on.MORE:
        said = follow_on.on_arrow(top)
        told = f"{top['first']}, then {top['then']}: {' '.join(said.values())}".replace("\n", " ")
        layout.drawing(f"arrow-{after}", arrow(top, **said), told, taps=False)
    chart = which_came_first(shown, days=days, verdicts=follow_on.VERDICTS)
    tapped = layout.drawing(f"next-{after}", chart, "Which of two components failed first, on how many cars")
    for sentence in filter(None, (follow_on.CAPTION, follow_on.tested_alone(shown))):
        st.caption(words.plain(sentence))
    return [row["pair"] for row in tapped]


def _records(snapshot: Snapshot, rows: pl.DataFrame, shown: pl.DataFrame, tapped: list[str]) -> None:
    listed = follow_on.pairs(shown, snapshot.rows("follow_on_pair"), snapshot.rows("record"))
    layout.records("next", listed, tapped, field="pair", hint="Tap a row.")
    rest = rows.height - shown.height
    if rest:
        more = words.count(rest, "more pair", "more pairs")
        st.caption(f"{words.first_up(more)}: choose a component, or export the table follow_on.")


def _cautions(snapshot: Snapshot, row: Row) -> tuple[str, ...]:
    told = layout.cautions_of(snapshot, row["first"], row["then"])
    critical = row["first_safety_critical"] or row["then_safety_critical"]
    return (follow_on.NO_WAITING, *told)[:3] if critical else told
