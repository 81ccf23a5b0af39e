"""Show where to look first.

Reads     : check_order, complaint, check_replay, vehicle, record; check_reading, reading_drift
Shows     : caution, answer, the ladder of checks, the closed jobs that ended there; readings against their limits
Empty case: says which complaint no closed job names, or what to load; no reading, no second question
"""

from __future__ import annotations

import streamlit as st

from dashboards import data
from dashboards.views import ladder, readings


def render() -> None:
    """Draw the page: where to look first, then what the readings say."""
    snapshot = data.current()
    st.title("Where do I look first?", anchor=False)
    ladder.show(snapshot)
    readings.show(snapshot)
