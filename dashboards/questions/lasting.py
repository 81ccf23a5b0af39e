"""Show how long one component lasts.

Reads     : life_model, life_survival, survival_curve, scale_choice, comparison, sensitivity, planned_replacement,
            expert_opinion, spell, record
Shows     : one answer, one life curve, the records behind it; age or distance; which kinds last longer; two designs
Empty case: says which evidence is missing; a safety-critical part gets no curve at all (rule 39)
"""

from __future__ import annotations

import polars as pl
import streamlit as st

from dashboards import choices, data, layout
from dashboards.views import beside, life, told_apart

NOT_YET = "No part has been watched yet: that takes two visits of a car."
LOAD = "Load vehicles and repairs, one row per line of a closed job, with the component and what was done."


def render() -> None:
    """Draw the page."""
    snapshot = data.current()
    st.title("How long does it last?", anchor=False)
    models = snapshot.rows("life_model")
    if models.is_empty():
        layout.blank("life", "Too little to say.", (NOT_YET, LOAD))
        return
    first = st.columns([3, 2, 2], vertical_alignment="bottom")
    with first[0]:
        component = choices.component(models)
    of_it = models.filter(pl.col("component") == component)
    if of_it["safety_critical"].any():
        life.safety_page(snapshot, component, of_it)
        return
    with first[1]:
        scale = choices.scale(of_it, told_apart.scale_first(snapshot, component))
    on_scale = of_it.filter(pl.col("scale") == scale)
    with first[2]:
        grouping = choices.grouping(on_scale)
    levels = on_scale.filter(pl.col("grouping") == grouping)
    second = st.columns([3, 4] if levels.height > 1 else [1], vertical_alignment="bottom")
    with second[0]:
        level = choices.level(levels)
    shown = life.view(snapshot, {"component": component, "grouping": grouping, "level": level, "scale": scale})
    with second[-1]:
        asked = life.ask(shown, scale)
    model = levels.filter(pl.col("level") == level).row(0, named=True)
    life.show(snapshot, shown, model, asked)
    beside.show(snapshot, on_scale, model, asked)
    layout.caution(layout.cautions_of(snapshot, component))
    st.caption("This is about all such parts, not about this one.")
