"""Show whether repairs held.

Reads     : repeat_repair, return_pair, record
Shows     : the repair that comes back more often than chance gives, a row per kind of repair, the returns behind it
Empty case: says that no repair was watched long enough; a thin row keeps its fence and says that it is too little
"""

from __future__ import annotations

import streamlit as st

from dashboards import data
from dashboards.views import held


def render() -> None:
    """Draw the page: did it hold, then what fails next."""
    snapshot = data.current()
    st.title("Did the repair hold?", anchor=False)
    held.show(snapshot)
    # the second question of the page stands here, under a divider and a header of its own
