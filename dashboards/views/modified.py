"""Did a modification help: what came since, against what the same cars would have had."""

from __future__ import annotations

from typing import TYPE_CHECKING

import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import modified, numbers

if TYPE_CHECKING:
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, above: str) -> None:
    """Draw the third question of the page, one modification at a time; `above`: whose cautions stand there already."""
    st.divider()
    st.header("Did a modification help?", anchor=False)
    rows = modified.first(snapshot.rows("before_after"))
    if rows.is_empty():
        st.caption(modified.HOW_TO_MARK)
        return
    by_name = {modified.name_of(row): row for row in rows.iter_rows(named=True)}
    row = by_name[choices.one_of("modification", "Modification", list(by_name))]
    layout.say("modified", modified.modified_answer(row, snapshot.as_of))
    layout.table("modified-table", modified.table(row), "Failures before, since and not modified")
    st.caption(words.plain(modified.led_to_it(row)))
    take_along.offer("modified", snapshot, numbers.of_modification(row), row["component"], row["modification"])
    if row["component"] != above:
        layout.caution(layout.cautions_of(snapshot, row["component"]))
