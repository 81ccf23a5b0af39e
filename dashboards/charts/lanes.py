"""One car: a lane per place, a bar per fitted part, a mark per record."""

from __future__ import annotations

from typing import TYPE_CHECKING

import altair as alt
import polars as pl

from dashboards.charts.sheet import leave, pick, role, row_y, rows_high, sheet, words_on_sheet

if TYPE_CHECKING:
    from datetime import date

MANY_VISITS = 40
SHORT_DAYS = 5 * 365
MARKS: dict[str, tuple[str, str, bool]] = {
    "failed": ("diamond", "oxide", True),
    "changed in passing": ("circle", "pencil", False),
    "planned": ("square", "petrol", True),
    "checked, good": ("triangle-up", "petrol", False),
    "inspected": ("triangle-down", "pencil", False),
    "no fault found": ("cross", "pencil", True),
}
"""Shape, role and filling of each kind of record."""


def car_lanes(
    parts: pl.DataFrame, events: pl.DataFrame, visits: pl.DataFrame, *, first: date, last: date
) -> alt.LayerChart:
    """Draw the car's places in the frame's order.

    `parts`: lane, label, start (null = unknown), end, fitted_still. `events`: lane, on, kind, record_id. `visits`: on.
    """
    order = parts["lane"].unique(maintain_order=True).to_list()
    y = row_y(order, "lane")
    short = (last - first).days < SHORT_DAYS
    axis = alt.Axis(format="%b %Y" if short else "%Y", tickCount=5 if short else 7, labelFlush=True)
    scale = alt.Scale(domain=[first.isoformat(), last.isoformat()])
    x = alt.X("start:T", title=None, scale=scale, axis=axis)
    faint = 0.8 if visits.height <= MANY_VISITS else 0.35
    rules = alt.Chart(visits).mark_rule(strokeWidth=1, opacity=faint, tooltip=None)
    lanes = parts.select("lane", "label").unique(maintain_order=True)
    names = alt.Chart(lanes).encode(y=y, x=alt.value(0), text="label:N")
    return sheet(
        rules.encode(x=alt.X("on:T", title=None), color=role("rule")),
        *_bars(parts, x, y, first),
        *words_on_sheet(names, align="left", dy=-13, limit=leave(10)),
        *_marks(events, y),
        height=rows_high(len(order)),
    )


def _bars(parts: pl.DataFrame, x: alt.X, y: alt.Y, first: date) -> list[alt.Chart]:
    known = parts.filter(pl.col("start").is_not_null())
    unknown = parts.filter(pl.col("start").is_null()).with_columns(start=pl.lit(first))
    fitted = parts.filter(pl.col("fitted_still"))
    layers = []
    if known.height:
        bar = alt.Chart(known).mark_bar(height=12, yOffset=9, opacity=0.5, tooltip=None)
        layers.append(bar.encode(x=x, x2="end:T", y=y, color=role("petrol")))
    if unknown.height:
        dots = alt.Chart(unknown).mark_rule(strokeWidth=3, strokeDash=[3, 4], yOffset=9, tooltip=None)
        layers.append(dots.encode(x=x, x2="end:T", y=y, color=role("pencil")))
    if fitted.height:
        point = alt.Chart(fitted).mark_point(
            shape="triangle-right", filled=True, size=130, opacity=1, yOffset=9, xOffset=4, tooltip=None
        )
        layers.append(point.encode(x=alt.X("end:T", title=None), y=y, color=role("petrol")))
    return layers


def _marks(events: pl.DataFrame, y: alt.Y) -> list[alt.Chart]:
    told = [
        alt.Tooltip("on:T", title="on", format="%Y-%m-%d"),
        alt.Tooltip("kind:N", title="what"),
        alt.Tooltip("record_id:N", title="record"),
    ]
    x = alt.X("on:T", title=None)
    layers = []
    for kind, (shape, colour, filled) in MARKS.items():
        part = events.filter(pl.col("kind") == kind)
        if part.height:
            mark = alt.Chart(part).mark_point(
                shape=shape, size=190, filled=True, opacity=1, yOffset=9, strokeWidth=1.5 if filled else 2.5
            )
            fill, stroke = (colour, "paper") if filled else ("paper", colour)
            layers.append(mark.encode(x=x, y=y, fill=alt.FillDatum(fill), stroke=alt.StrokeDatum(stroke), tooltip=told))
    if events.height:
        target = alt.Chart(events).mark_point(shape="square", size=900, opacity=0, filled=True, yOffset=9)
        layers.append(target.encode(x=x, y=y, tooltip=told).add_params(pick("record_id")))
    return layers
