"""Two designs of one component side by side."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import layout, words
from dashboards.answers import curves, life
from dashboards.charts.compare import Line, two_designs
from dashboards.views.life import LEAST

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, models: pl.DataFrame, asked: int | None) -> None:
    """Compare the two designs with most failures, where both have a firm curve; else show nothing."""
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    variants = models.filter((pl.col("grouping") == "variant") & (pl.col("level") != "unknown"))
    firm = [row for row in variants.iter_rows(named=True) if life.state_of(row, needed) == "ink"]
    firm.sort(key=lambda row: (-row["failures"], row["level"]))
    pair = sorted((_line(snapshot, row) for row in firm[:2]), key=lambda line: line.name)
    if len(pair) < 2 or any(line.law.height < 2 for line in pair):
        return
    st.divider()
    st.header("Old design or new?", anchor=False)
    _compare(snapshot, pair, firm[:2], asked)


def _line(snapshot: Snapshot, model: Row) -> Line:
    group = {name: model[name] for name in ("component", "grouping", "level", "scale")}
    survival = snapshot.rows("life_survival", **group)
    spells = snapshot.rows("spell", component=model["component"], scale=model["scale"])
    own = spells.filter(pl.col("variant") == model["level"])
    firm = curves.firm_to(own, survival, snapshot.number("risk_set_least", LEAST))
    return Line(model["level"], curves.law(survival, model["scale"], firm).drop_nulls())


def _compare(snapshot: Snapshot, pair: list[Line], models: list[Row], asked: int | None) -> None:
    scale = models[0]["scale"]
    unit, size = curves.UNITS[scale]
    both = sorted(set(pair[0].law["time"]) & set(pair[1].law["time"]))
    ask = min(both, key=lambda t: abs(t - (asked or 0) / size))
    a, b = (line.law.filter(pl.col("time") == ask).row(0, named=True) for line in pair)
    sentence = words.still_work(
        words.reach(ask * size, scale), (pair[1].name, b["survival"]), (pair[0].name, a["survival"])
    )
    facts = [f"**{words.count(sum(m['failures'] for m in models), 'failure')}**"]
    facts.append(words.count(sum(m["units"] for m in models), "part"))
    apart = a["upper"] < b["lower"] or b["upper"] < a["lower"]
    note = (
        "The bands lie apart at this age."
        if apart
        else ("The bands overlap at this age: how sure the difference is, they alone do not say.")
    )
    layout.answer("designs", sentence, words.evidence("ink", facts, snapshot.as_of), (note,))
    chart = two_designs(pair[0], pair[1], ask=ask, unit=unit)
    layout.drawing("designs", chart, f"Life curves of {pair[0].name} and {pair[1].name}", taps=False)
    st.caption("Each curve ends where fewer than five of its parts were still being watched.")
