"""Where on the car it fails: two plans, ranked places, the faults behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboards import layout, words
from dashboards.charts.plan import car_plan
from dashboards.charts.ranked import ranked_places

if TYPE_CHECKING:
    from dashboards.data import Snapshot

READ = (
    "Nose up, left is the car's left. The **core** is the least and the **haze** the most the true number could be, "
    "the **ring** is what chance gives. Ring inside the core: more than chance. Ring in the haze: cannot tell."
)


def show(frame: pl.DataFrame, most: int) -> list[str]:
    """Draw the plans where places have a spot on the car, and the ranks always; return the places tapped.

    `frame`: as from ``answers.places``, best first.
    """
    drawn = frame.drop_nulls(["x", "y"])
    ranked = frame.filter(pl.col("observed") > 0).head(most)
    events: list[Any] = []
    if drawn.is_empty():
        events.append(_ranks(ranked))
    else:
        decks = [deck for deck in ("above", "below") if deck in drawn["deck"].to_list()]
        columns = st.columns([*([5] * len(decks)), 18 - 5 * len(decks)], gap="medium")
        events += [_plan(drawn, deck, column) for deck, column in zip(decks, columns[:-1], strict=True)]
        with columns[-1]:
            events.append(_ranks(ranked))
        st.caption(READ)
    rest = frame.filter(pl.col("observed") > 0).height - ranked.height
    if rest > 0:
        st.caption(f"{words.first_up(words.count(rest, 'more place'))} with a fault, ranked lower.")
    return _tapped(events)


def _plan(frame: pl.DataFrame, deck: str, column: Any) -> Any:  # noqa: ANN401 - Streamlit's own loose types
    chart = car_plan(frame.filter(pl.col("deck") == deck), deck=deck, most=float(frame["greatest"].to_numpy().max()))
    with column:
        return st.altair_chart(
            chart,
            width=290,
            on_select="rerun",
            key=f"plan-{deck}",
            alt="Plan of the car with the faults seen and expected at each place",
        )


def _ranks(ranked: pl.DataFrame) -> Any:  # noqa: ANN401 - Streamlit's own loose types
    return st.altair_chart(
        ranked_places(ranked),
        width="stretch",
        on_select="rerun",
        key="ranks",
        alt="Places ranked by how surely they fail more often than chance",
    )


def _tapped(events: list[Any]) -> list[str]:
    """Return the place tapped last: two plans and a list hold a selection each."""
    now = [tuple(row["location"] for row in layout.picked(event)) for event in events]
    before = st.session_state.get("places-tapped", [()] * len(now))
    fresh = [new for new, old in zip(now, before, strict=False) if new and new != old]
    st.session_state["places-tapped"] = now
    last = fresh[0] if fresh else st.session_state.get("place-last", ())
    if last not in now:
        last = next((new for new in now if new), ())
    st.session_state["place-last"] = last
    return list(last)


def faults(snapshot: Snapshot, series: str, chosen: list[str], frame: pl.DataFrame) -> None:
    """Show the faults behind the plan, or those at the place tapped and at what is part of it."""
    rows = snapshot.rows("fault") if series == "all" else snapshot.rows("fault", series=series)
    told = snapshot.rows("record").select("record", "record_id", "closed_on", "action", "part_no")
    listed = (
        rows.filter(pl.col("location").is_not_null())
        .join(told, left_on="fault_record", right_on="record", how="left")
        .sort("visit_day", "fault_record", descending=True)
        .select("record_id", "vehicle_id", "closed_on", "location", "component", "position", "action", "part_no")
    )
    layout.records("where", listed, _with_parts(chosen, frame), field="location", hint="Tap a place.")


def _with_parts(chosen: list[str], frame: pl.DataFrame) -> list[str]:
    found, new = set(chosen), set(chosen)
    while new:
        new = set(frame.filter(pl.col("parent").is_in(list(new)))["location"]) - found
        found |= new
    return sorted(found)
