"""What the records cannot tell: what was set aside, filled in or left out, with counts."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import take_along
from dashboards.answers import numbers, short
from dashboards.words import plain

if TYPE_CHECKING:
    from dashboards.data import Snapshot

SHOWN = 8
HOW_TO_READ = "How often, and in brackets of how many of 100 where it could have been."


def show(snapshot: Snapshot) -> None:
    """List it, the largest shares first."""
    st.subheader("What the records cannot tell", anchor=False)
    quality = snapshot.rows("data_quality")
    told = [f"- **{plain(count)}** {plain(what)}" for count, what in short.cannot_tell(quality)]
    if not told:
        st.markdown("Nothing was set aside, filled in or left out.")
        return
    st.caption(HOW_TO_READ)
    st.markdown("\n".join(told[:SHOWN]))
    if len(told) > SHOWN:
        st.expander(f"{len(told) - SHOWN} more").markdown("\n".join(told[SHOWN:]))
    take_along.offer("untold", snapshot, numbers.of_quality(quality))
