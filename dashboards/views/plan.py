"""Where on the car it fails: two plans, ranked places, the faults behind them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl
import streamlit as st

from dashboards import layout, words
from dashboards.answers import places
from dashboards.answers.left_out import NO_COMPONENT
from dashboards.answers.said import CARS
from dashboards.charts.plan import car_plan
from dashboards.charts.ranked import ranked_places

if TYPE_CHECKING:
    from dashboards.data import Snapshot

Tap = tuple[str, ...]

READ = (
    "Nose up, left is the car's left. The **core** is the least and the **haze** the most the true number could be, "
    "the **ring** is what chance gives. Ring inside the core: more than chance. Ring in the haze: cannot tell."
)
FEW = (
    f"Dotted, in pencil: fewer than {words.COUNTS[CARS]} cars had a fault there, so it tells of them, not of the fleet."
)


def show(frame: pl.DataFrame, most: int, name: str) -> list[str]:
    """Draw the plans where places have a spot on the car, and the ranks always; return the places tapped.

    `frame`: as from ``answers.places``, best first; `name`: the choice made, so that an older tap is forgotten.
    """
    drawn = frame.drop_nulls(["x", "y"])
    thin = places.cannot_tell(frame)
    ranked = frame.filter(pl.col("observed") > 0).head(most)
    taps: list[Tap] = []
    if drawn.is_empty():
        taps.append(_beside(frame, ranked, name))
    else:
        decks = [deck for deck in ("above", "below") if deck in drawn["deck"].to_list()]
        columns = st.columns([*([5] * len(decks)), 18 - 5 * len(decks)], gap="medium")
        for deck, column in zip(decks, columns[:-1], strict=True):
            with column:
                taps.append(_plan(drawn, deck, name))
        with columns[-1]:
            taps.append(_beside(frame, ranked, name))
        st.caption(READ)
    if not thin and (frame["few"] & frame["location"].is_in([*ranked["location"], *drawn["location"]])).any():
        st.caption(FEW)
    rest = frame.filter(pl.col("observed") > 0).height - ranked.height
    if rest > 0 and not thin:
        st.caption(f"{words.first_up(words.count(rest, 'more place'))} with a fault, ranked lower.")
    return _last(taps, name)


def hint(frame: pl.DataFrame) -> str:
    """Say what can be tapped."""
    return "" if places.cannot_tell(frame) and frame.drop_nulls(["x", "y"]).is_empty() else "Tap a place."


def _beside(frame: pl.DataFrame, ranked: pl.DataFrame, name: str) -> Tap:
    """Draw the ranks, or, where no place can be told from another, give the counts alone."""
    if not places.cannot_tell(frame):
        return _ranks(ranked, name)
    layout.table(f"counts-{name}", places.counts(frame), "Faults by place")
    return ()


def _plan(frame: pl.DataFrame, deck: str, name: str) -> Tap:
    most = float(frame["greatest"].to_numpy().max())
    chart = car_plan(frame.filter(pl.col("deck") == deck), deck=deck, most=most)
    told = "Plan of the car with the faults seen and expected at each place"
    return _places(layout.drawing(f"plan-{deck}-{name}", chart, told, width=290))


def _ranks(ranked: pl.DataFrame, name: str) -> Tap:
    if ranked.is_empty():
        return ()
    told = "Places ranked by how surely they fail more often than chance"
    return _places(layout.drawing(f"ranks-{name}", ranked_places(ranked), told))


def _places(tapped: list[dict[str, Any]]) -> Tap:
    return tuple(row["location"] for row in tapped)


def _last(now: list[Tap], name: str) -> list[str]:
    """Return the place tapped last: two plans and a list hold a tap each."""
    before, last = st.session_state.get(f"tapped-{name}", ([()] * len(now), ()))
    fresh = [new for new, old in zip(now, before, strict=False) if new and new != old]
    if fresh:
        last = fresh[0]
    elif last not in now:
        last = next((new for new in now if new), ())
    st.session_state[f"tapped-{name}"] = (now, last)
    return list(last)


def faults(snapshot: Snapshot, rows: pl.DataFrame, chosen: list[str], tree: pl.DataFrame, told: str) -> None:
    """Show the faults behind the plan, or those at the place tapped and at what is part of it."""
    record = snapshot.rows("record").select("record", "record_id", "closed_on", "action", "part_no")
    listed = (
        rows.join(record, left_on="fault_record", right_on="record", how="left")
        .sort("visit_day", "fault_record", descending=True)
        .with_columns(component=pl.when(pl.col("component") != NO_COMPONENT).then("component"))
        .select("record_id", "vehicle_id", "closed_on", "location", "component", "position", "action", "part_no")
    )
    layout.records("where", listed, places.with_parts(chosen, tree), field="location", hint=told)
