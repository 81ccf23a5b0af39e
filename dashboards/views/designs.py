"""Two designs of one component side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import layout, words
from dashboards.answers import curves, designs, life
from dashboards.charts.compare import Line, two_designs
from dashboards.views import told_apart
from dashboards.views.life import LEAST

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, models: pl.DataFrame, asked: int | None) -> None:
    """Compare the two designs with most failures, where both have a firm curve; else show nothing."""
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    two = designs.pair(models, needed)
    lines = [_line(snapshot, row) for row in two]
    if not lines or any(line.law.height < 2 for line in lines):
        return
    st.divider()
    st.header("Old design or new?", anchor=False)
    _compare(snapshot, lines, two, asked)


def _line(snapshot: Snapshot, model: Row) -> Line:
    group = {name: model[name] for name in ("component", "grouping", "level", "scale")}
    survival = snapshot.rows("life_survival", **group)
    spells = snapshot.rows("spell", component=model["component"], scale=model["scale"])
    own = curves.of_group(spells, spells.head(0), "variant", model["level"])
    firm = curves.firm_to(own, survival, snapshot.number("risk_set_least", LEAST))
    return Line(model["level"], curves.law(survival, model["scale"], firm).drop_nulls())


def _compare(snapshot: Snapshot, lines: list[Line], models: list[Row], asked: int | None) -> None:
    scale = models[0]["scale"]
    unit, size = curves.UNITS[scale]
    both = sorted(set(lines[0].law["time"]) & set(lines[1].law["time"]))
    ask = min(both, key=lambda t: abs(t - (asked or 0) / size))
    a, b = (line.law.filter(pl.col("time") == ask).row(0, named=True) for line in lines)
    sentence = words.still_work(
        words.reach(ask * size, scale), (lines[1].name, b["survival"]), (lines[0].name, a["survival"])
    )
    facts = [f"**{words.count(sum(m['failures'] for m in models), 'failure')}**"]
    facts.append(words.count(sum(m["units"] for m in models), "part"))
    overlap = "The bands overlap at this age: how sure the difference is, they alone do not say."
    note = "The bands lie apart at this age." if designs.apart(a, b) else overlap
    notes = (*told_apart.of_two(snapshot, models), note)
    layout.answer("designs", sentence, words.evidence("ink", facts, snapshot.as_of), notes)
    chart = two_designs(lines[0], lines[1], ask=ask, unit=unit)
    layout.drawing("designs", chart, f"Life curves of {lines[0].name} and {lines[1].name}", taps=False)
    st.caption("Each curve ends where fewer than five of its parts were still being watched.")
