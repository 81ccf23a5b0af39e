"""One interchangeable group on the shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout
from dashboards.answers import shelf
from dashboards.charts.outlook import shelf_outlook

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

COVERED = "● can be counted on  ·  □ covered by the order  ·  ◆ would still be short"


def show(snapshot: Snapshot, row: Row) -> None:
    """Draw answer, outlook, cautions and the repairs behind them."""
    demand = snapshot.rows("demand", part_no=row["part_no"])
    mass = shelf.at_horizon(demand, row["horizon_days"])
    if mass.is_empty():
        said = shelf.refused(row, snapshot.as_of)
        layout.blank("shelf", said.sentence, said.notes, said.evidence)
    else:
        _outlook(snapshot, row, mass)
    names = row["components"].split(";")
    layout.caution(layout.cautions_of(snapshot, *(name.strip() for name in names)))
    _repairs(snapshot, [name.strip() for name in names])


def _outlook(snapshot: Snapshot, row: Row, mass: pl.DataFrame) -> None:
    need, can = shelf.outlooks(mass), shelf.held(row)
    order = 0
    if can is not None:
        left, right = st.columns([3, 4], vertical_alignment="bottom")
        with left:
            usual = shelf.risk_of(row["service_level"])
            risk = choices.side_by_side("risk", "May run out in", list(shelf.RISKS), first=usual)
        order = _order(right, shelf.proposal(row, mass, risk), row["pack_size"] or 1, f"{row['part_no']}-{risk}")
    said = shelf.shelf_answer(row, need, order, snapshot.as_of)
    layout.answer("shelf", said.sentence, said.evidence, said.notes)
    told = "Twenty equally likely outlooks of demand against the shelf"
    layout.drawing("outlook", shelf_outlook(need, held=can, order=order), told, taps=False)
    if can is not None:
        st.caption(COVERED)


def _order(column: st.delta_generator.DeltaGenerator, first: int, pack: int, key: str) -> int:
    most = max(2 * first, 10 * pack)
    most += -(most - first) % pack
    start = first % pack
    told = f"Starts at our proposal; packs of {pack}." if pack > 1 else "Starts at our proposal."
    with column:
        value: int = st.slider("Order", start, most, first, pack, key=f"order-{key}", help=told)
    return value


def _repairs(snapshot: Snapshot, components: list[str]) -> None:
    records = snapshot.rows("record")
    used = records.filter(pl.col("component").is_in(components) & pl.col("part_no").is_not_null())
    shown = used.sort("closed_on", "record", descending=True).select(
        "record_id", "vehicle_id", "closed_on", "component", "position", "part_no", "quantity", "reason"
    )
    layout.records("shelf", shown, hint="Every line that fitted a part of this component.")


def used_lately(snapshot: Snapshot) -> None:
    """List the parts used in the last twelve months, whatever else is known."""
    st.divider()
    st.header("Used in the last twelve months", anchor=False)
    used = shelf.used_lately(snapshot.rows("record"), snapshot.as_of)
    if used.is_empty():
        st.markdown("No record of the last twelve months names a part.")
        return
    layout.table("used", used, "Parts used in the last twelve months")
