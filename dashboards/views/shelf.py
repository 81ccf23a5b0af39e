"""One interchangeable group on the shelf."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout
from dashboards.answers import ageing, packs, parts, shelf
from dashboards.charts.outlook import shelf_outlook

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

NOTHING_USED = "No job of the last twelve months names a part. Load repairs with part_no filled in, or a table sales."
SOLD_ONLY = "No job stands behind this: sales over the counter alone do."
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
    _repairs(snapshot, [name.strip() for name in names], SOLD_ONLY if row["sales"] else layout.NO_RECORD)


def _outlook(snapshot: Snapshot, row: Row, mass: pl.DataFrame) -> None:
    need, can = shelf.outlooks(mass), shelf.held(row)
    order = 0
    if can is not None:
        left, right = st.columns([3, 4], vertical_alignment="bottom")
        with left:
            usual = shelf.risk_of(row["service_level"])
            risks = list(shelf.risks(row["service_level"]))
            risk = choices.side_by_side("risk", "May run out in", risks, first=usual)
        order = _order(right, shelf.proposal(row, mass, risk), row["pack_size"] or 1, f"{row['part_no']}-{risk}")
    said = shelf.shelf_answer(row, need, order, snapshot.as_of)
    layout.answer("shelf", said.sentence, said.evidence, said.notes)
    told = "Twenty equally likely outlooks of demand against the shelf"
    layout.drawing("outlook", shelf_outlook(need, held=can, order=order), told, taps=False)
    if can is not None:
        st.caption(COVERED)
        choices_of_it = snapshot.rows_if_any("order_choice", part_no=row["part_no"])
        advised = choices_of_it.height and order == row["order_quantity"]
        beside = packs.choices_told(choices_of_it, row) if advised else packs.packs_beside(row, mass, order)
        layout.table("packs", beside, "This order, and the next smaller and larger one")
        st.caption(packs.how_to_read(row, order))
    cars = snapshot.rows_if_any("demand_car", part_no=row["part_no"])
    if cars.height:
        shown = ageing.cars_behind(cars)
        st.markdown(f"**Cars behind this forecast**  ·  {shown.height}, those most likely to need it first")
        layout.table("cars", shown, "Cars whose units stand behind this forecast")
        first = shown["vehicle_id"][0]
        layout.link("one-car", f"This car's story: {first}", car=first)


def _order(column: st.delta_generator.DeltaGenerator, first: int, pack: int, key: str) -> int:
    most = max(2 * first, 10 * pack)
    most += -(most - first) % pack
    start = first % pack
    told = f"Starts at our proposal; packs of {pack}." if pack > 1 else "Starts at our proposal."
    with column:
        value: int = st.slider("Order", start, most, first, pack, key=f"order-{key}", help=told)
    return value


def _repairs(snapshot: Snapshot, components: list[str], nothing: str) -> None:
    records = snapshot.rows("record")
    used = records.filter(pl.col("component").is_in(components) & pl.col("part_no").is_not_null())
    shown = used.sort("closed_on", "record", descending=True).select(
        "record_id", "vehicle_id", "closed_on", "component", "position", "part_no", "quantity", "reason"
    )
    layout.records("shelf", shown, hint="Every line that fitted a part of this component.", nothing=nothing)


def every_part(ranked: pl.DataFrame) -> None:
    """List all parts, what to order first on top."""
    st.divider()
    st.header("Every part, what to order first on top", anchor=False)
    layout.table("parts", parts.listed(ranked), "All parts, what to order first on top")
    for told in parts.how_to_read(ranked):
        st.caption(told)


def used_lately(snapshot: Snapshot, groups: pl.DataFrame) -> None:
    """List the parts used in the last twelve months, and those sold, whatever else is known."""
    used = shelf.used_lately(snapshot.rows("record"), snapshot.as_of)
    sold = shelf.sold_lately(groups)
    st.divider()
    if sold.height:
        longest = groups.sort("sales_years", descending=True, nulls_last=True).row(0, named=True)
        st.header(f"Sold over the counter in the last {shelf.in_years(longest)}", anchor=False)
        layout.table("sold", sold, "Parts sold or asked for over the counter")
        st.caption("Parts asked for and not in stock are counted too.")
    if used.height or sold.is_empty():
        st.header("Used in the last twelve months", anchor=False)
    if used.height:
        layout.table("used", used, "Parts used by jobs in the last twelve months")
    elif sold.is_empty():
        st.markdown(NOTHING_USED)
