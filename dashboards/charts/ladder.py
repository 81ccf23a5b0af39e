"""Checks as rungs going down in time: where a rung ends, so many of 20 such cars have been solved."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboards.charts.sheet import by_width, leave, pick, right_edge, role, row_y, rows_high, sheet, words_on_sheet

RUNG = 16
DOWN = 12
"""Height of a rung, and how far it lies below the middle of its row, pixels."""


def check_ladder(frame: pl.DataFrame) -> alt.LayerChart:
    """Draw each check as a rung, in the frame's order.

    `frame`: component, label, note (both also `short`), start, opened, to, probability, tied, role, minutes.
    """
    said = "minutes at the car" if not frame["minutes"].null_count() else "checks made"
    rows = frame.with_columns(zero=pl.lit(0.0), row=pl.col("component"))
    scale = alt.Scale(domain=[0, float(rows["to"].to_numpy().max()) or 1.0], nice=False)
    y = row_y(rows["row"].to_list())
    layers = [_line(rows, "zero", "start", y, said, scale), *_rungs(rows, y, said, scale)]
    opening = rows.filter(pl.col("opened") > pl.col("start"))
    if opening.height:
        thin = alt.Chart(opening).mark_bar(height=5, yOffset=DOWN, tooltip=None)
        layers.append(thin.encode(x=_x("start", said, scale), x2="opened:Q", y=y, color=role("pencil")))
    label = alt.Chart(rows).encode(y=y, x=alt.value(0))
    note = alt.Chart(rows).encode(y=y, x=right_edge())
    target = alt.Chart(rows).mark_bar(opacity=0, height=54, tooltip=None)
    return sheet(
        *layers,
        *words_on_sheet(label, align="left", dy=-11, limit=leave(205, 115), text=by_width("label_short", "label")),
        *words_on_sheet(note, colour="pencil", align="right", dy=-11, fontSize=13, text=by_width("note_short", "note")),
        target.encode(x=alt.value(0), x2=alt.value(alt.expr("width")), y=y).add_params(pick("component")),
        height=rows_high(rows.height, 58),
    )


def _x(field: str, said: str, scale: alt.Scale) -> alt.X:
    return alt.X(f"{field}:Q", title=said, scale=scale, axis=alt.Axis(tickCount=6, tickMinStep=1, format="d"))


def _line(rows: pl.DataFrame, begin: str, end: str, y: alt.Y, said: str, scale: alt.Scale) -> alt.Chart:
    """Draw the dotted way to a rung."""
    rule = alt.Chart(rows).mark_rule(strokeWidth=1, strokeDash=[1, 4], yOffset=DOWN, tooltip=None)
    drawn: alt.Chart = rule.encode(x=_x(begin, said, scale), x2=f"{end}:Q", y=y, color=role("pencil"))
    return drawn


def _rungs(rows: pl.DataFrame, y: alt.Y, said: str, scale: alt.Scale) -> list[alt.Chart]:
    chance = alt.Opacity("probability:Q", legend=None, scale=alt.Scale(domain=[0, 0.3], range=[0.3, 1], clamp=True))
    told = [
        alt.Tooltip("component:N", title="check"),
        alt.Tooltip("location:N", title="at"),
        alt.Tooltip("probability:Q", title="chance", format=".0%"),
        alt.Tooltip("jobs:Q", title="closed jobs that ended here"),
    ]
    drawn = []
    for name in rows["role"].unique(maintain_order=True):
        of_it = alt.Chart(rows.filter(pl.col("role") == name))
        bar = of_it.mark_bar(height=RUNG, yOffset=DOWN, cornerRadius=2)
        x = _x("opened", said, scale)
        drawn.append(bar.encode(x=x, x2="to:Q", y=y, color=role(name), opacity=chance, tooltip=told))
    tied = rows.filter("tied")
    if tied.height:
        frame = alt.Chart(tied).mark_bar(
            height=RUNG, yOffset=DOWN, cornerRadius=2, filled=False, strokeWidth=1.5, strokeDash=[3, 3], tooltip=None
        )
        drawn.append(frame.encode(x=_x("opened", said, scale), x2="to:Q", y=y, stroke=alt.StrokeDatum("ink")))
    return drawn
