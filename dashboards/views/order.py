"""The order list: its files, and what it comes to at each supplier."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import streamlit as st

from analytics.errors import SnapshotError
from analytics.order_file import as_csv, as_workbook
from analytics.order_list import OrderList, order_list
from dashboards import layout, words

if TYPE_CHECKING:
    from dashboards.data import Snapshot

WORKBOOK = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet"
COMES_TO = "What is to be ordered now, at each supplier"


def show(snapshot: Snapshot) -> None:
    """Offer the list as a file, and show its sums; without a stock count there is none."""
    orders = _orders(snapshot.path)
    if orders is None:
        return
    if orders.rows.is_empty():
        st.caption("No part is to be ordered now.")
        return
    st.header("The order list", anchor=False)
    many, suppliers = (
        words.count(orders.rows.height, "part"),
        words.count(orders.rows["supplier"].n_unique(), "supplier"),
    )
    st.markdown(
        f"{words.first_up(many)} to order, at {suppliers}: a row each, with packs, costs, why, what to check first."
    )
    workbook, text, _ = st.columns([1, 1, 2])
    name = f"order-{snapshot.name}"
    with workbook:
        st.download_button(
            "Order list, workbook",
            _workbook(snapshot.path),
            f"{name}.xlsx",
            WORKBOOK,
            on_click="ignore",
            width="stretch",
        )
    with text:
        st.download_button(
            "Order list, CSV", _csv(snapshot.path), f"{name}.csv", "text/csv", on_click="ignore", width="stretch"
        )
    sums = orders.by_supplier()
    known = [name for name in sums.columns if sums[name].null_count() < sums.height and name != "without a cost"]
    layout.table("suppliers", sums.select(known), COMES_TO)
    lacking = int(sums["without a cost"].sum())
    if lacking:
        st.caption(
            f"{words.first_up(words.count(lacking, 'part has', 'parts have'))} no cost stated and no share in a sum."
        )


@st.cache_data(show_spinner=False, max_entries=4)
def _orders(path: str) -> OrderList | None:
    try:
        return order_list(Path(path))
    except SnapshotError:
        return None


@st.cache_data(show_spinner=False, max_entries=4)
def _workbook(path: str) -> bytes:
    return as_workbook(order_list(Path(path)))


@st.cache_data(show_spinner=False, max_entries=4)
def _csv(path: str) -> bytes:
    return as_csv(order_list(Path(path)))
