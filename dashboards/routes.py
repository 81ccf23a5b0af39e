"""The pages, by address."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

if TYPE_CHECKING:
    from streamlit.navigation.page import Page

FIRST = "in-short"
"""The page shown at the bare address."""

NAMES = {
    "in-short": ("In short", "short_text"),
    "lasting": ("How long it lasts", "hourglass_bottom"),
    "where": ("Where it fails", "pin_drop"),
    "held": ("Did it hold?", "replay"),
    "look-first": ("Look here first", "stairs"),
    "shelf": ("On the shelf", "shelves"),
    "one-car": ("One car", "timeline"),
}
"""Name in the bar and symbol of each page."""


def pages(first: str = FIRST) -> dict[str, Page]:
    """Return every page by its address."""
    # pages lead to each other, so none can be imported before all are
    from dashboards.questions import held, in_short, lasting, look_first, one_car, shelf, where

    render = {
        "in-short": in_short.render,
        "lasting": lasting.render,
        "where": where.render,
        "held": held.render,
        "look-first": look_first.render,
        "shelf": shelf.render,
        "one-car": one_car.render,
    }
    return {
        address: st.Page(
            render[address], title=name, icon=f":material/{symbol}:", url_path=address, default=address == first
        )
        for address, (name, symbol) in NAMES.items()
    }
