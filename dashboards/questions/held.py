"""Show whether repairs held.

Reads     : repeat_repair, return_pair, follow_on, follow_on_pair, record
Shows     : the repair that comes back more often than chance gives, a row per kind of repair, the returns behind it;
            which component fails after which, and the records of both
Empty case: says that no repair was watched long enough; a thin row keeps its fence and says that it is too little;
            what fails next says how many cars are missing
"""

from __future__ import annotations

import streamlit as st

from dashboards import data
from dashboards.views import follow_on, held


def render() -> None:
    """Draw the page: did it hold, then what fails next."""
    snapshot = data.current()
    st.title("Did the repair hold?", anchor=False)
    held.show(snapshot)
    follow_on.show(snapshot)
