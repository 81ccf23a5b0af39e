"""The pages, by address."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.navigation.page import Page


def pages() -> dict[str, Page]:
    """Return every page by its address; imported here because pages lead to each other."""
    from dashboards.pages import in_short, lasting, one_car, shelf, where

    return {
        "in-short": st.Page(
            in_short.render, title="In short", icon=":material/short_text:", url_path="in-short", default=True
        ),
        "lasting": st.Page(
            lasting.render, title="How long it lasts", icon=":material/hourglass_bottom:", url_path="lasting"
        ),
        "where": st.Page(where.render, title="Where it fails", icon=":material/pin_drop:", url_path="where"),
        "shelf": st.Page(shelf.render, title="On the shelf", icon=":material/shelves:", url_path="shelf"),
        "one-car": st.Page(one_car.render, title="One car", icon=":material/timeline:", url_path="one-car"),
    }
