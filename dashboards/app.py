"""Entry point of the dashboard: routing only."""

from __future__ import annotations

# Eager on purpose: two first visitors at once would meet half-imported modules.
import altair
import duckdb
import pandas  # type: ignore[import-untyped]
import polars
import pyarrow  # type: ignore[import-untyped]
import streamlit as st

from analytics.errors import SnapshotError
from dashboards import data, layout, routes, theme

EAGER = (altair, duckdb, pandas, polars, pyarrow)


def main(first: str = routes.FIRST) -> None:
    """Choose the page and draw it; `first` is the one shown at the bare address."""
    st.set_page_config(page_title="WearLedger", page_icon=str(theme.MARK), layout="wide")
    layout.dress()
    try:
        snapshot = data.current()
        st.navigation(list(routes.pages(first).values()), position="top").run()
    except SnapshotError as error:
        layout.nothing_yet(error)
        return
    layout.last_line(snapshot)


if __name__ == "__main__":
    main()
