"""Repairs that came back, of 100, against the fence of what chance alone gives."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboards.charts.sheet import by_width, leave, pick, right_edge, role, row_y, rows_high, sheet, words_on_sheet

ROW = 60
BELOW = 11
"""How far below its words a row is drawn."""

THIN = "too little to say"


def held_or_not(frame: pl.DataFrame, *, days: int, end: int) -> alt.LayerChart:
    """Draw each kind of repair as a row, in the frame's order.

    `frame`: repair, repairs, returns, shown, shown_lower, shown_upper, chance, chance_least, chance_most (all of 100),
    thin, sure; `end`: where the axis ends.
    """
    rows = frame.with_columns(row=pl.col("repair"), facts=facts(), counts=pl.format("{} of {}", "returns", "repairs"))
    said = f"came back within {days} days, of 100 repairs"
    scale = alt.Scale(domain=[0, end], clamp=True, nice=False)
    x, y = alt.X("shown:Q", title=said, scale=scale, axis=alt.Axis(tickCount=5)), row_y(rows["row"].to_list())
    fenced, seen = rows.drop_nulls("chance_most"), rows.filter(~pl.col("thin"))
    layers = [_axis(x, y, rows)]
    if fenced.height:
        layers += [_fence(fenced, said, y), _middle(fenced, said, y)]
    if seen.height:
        layers.append(_line(seen, said, y))
    for part, mark in ((seen.filter(~pl.col("sure")), _open), (seen.filter("sure"), _diamond)):
        if part.height:
            layers.append(mark(part, x, y))
    target = alt.Chart(rows).mark_bar(opacity=0, height=ROW - 4, tooltip=None)
    return sheet(
        *layers,
        *_words(rows, said, y, end),
        target.encode(x=alt.value(0), x2=alt.value(alt.expr("width")), y=y).add_params(pick("repair")),
        height=rows_high(rows.height, ROW),
    )


def facts() -> pl.Expr:
    """Write the counts of a row: 6 of 43 came back."""
    return pl.format("{} of {} came back", "returns", "repairs")


def _axis(x: alt.X, y: alt.Y, rows: pl.DataFrame) -> alt.Chart:
    """Hold the axis open where every row is thin."""
    drawn: alt.Chart = alt.Chart(rows).mark_point(opacity=0, size=0, tooltip=None, aria=False).encode(x=x, y=y)
    return drawn


def _fence(frame: pl.DataFrame, said: str, y: alt.Y) -> alt.Chart:
    bar = alt.Chart(frame).mark_bar(height=18, yOffset=BELOW, opacity=0.55, cornerRadius=2, tooltip=None)
    drawn: alt.Chart = bar.encode(x=alt.X("chance_least:Q", title=said), x2="chance_most:Q", y=y, color=role("rule"))
    return drawn


def _middle(frame: pl.DataFrame, said: str, y: alt.Y) -> alt.Chart:
    tick = alt.Chart(frame).mark_tick(orient="vertical", size=18, thickness=2, yOffset=BELOW, opacity=1, tooltip=None)
    drawn: alt.Chart = tick.encode(x=alt.X("chance:Q", title=said), y=y, color=role("pencil"))
    return drawn


def _line(frame: pl.DataFrame, said: str, y: alt.Y) -> alt.Chart:
    rule = alt.Chart(frame).mark_rule(strokeWidth=2, yOffset=BELOW, tooltip=None)
    drawn: alt.Chart = rule.encode(x=alt.X("shown_lower:Q", title=said), x2="shown_upper:Q", y=y, color=role("pencil"))
    return drawn


def _open(frame: pl.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    mark = alt.Chart(frame).mark_point(filled=True, size=130, yOffset=BELOW, strokeWidth=2, opacity=1, tooltip=None)
    drawn: alt.Chart = mark.encode(x=x, y=y, fill=alt.FillDatum("paper"), stroke=alt.StrokeDatum("pencil"))
    return drawn


def _diamond(frame: pl.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    mark = alt.Chart(frame).mark_point(filled=True, shape="diamond", size=240, yOffset=BELOW, opacity=1, tooltip=None)
    drawn: alt.Chart = mark.encode(x=x, y=y, color=role("oxide"))
    return drawn


def _words(rows: pl.DataFrame, said: str, y: alt.Y, end: int) -> list[alt.Chart]:
    layers = []
    for part, weight in ((rows.filter(~pl.col("sure")), 400), (rows.filter("sure"), 700)):
        if part.height:
            name = alt.Chart(part).encode(y=y, x=alt.value(0), text="row:N")
            layers += words_on_sheet(name, align="left", dy=-12, fontWeight=weight, limit=leave(165, 85))
    told = alt.Chart(rows).encode(y=y, x=right_edge())
    layers += words_on_sheet(
        told, colour="pencil", align="right", dy=-12, fontSize=13, text=by_width("counts", "facts")
    )
    thin = rows.filter("thin").with_columns(told=pl.lit(THIN), at=pl.col("chance_most").fill_null(0.0))
    look: dict[str, Any] = {"colour": "pencil", "dy": BELOW, "fontStyle": "italic"}
    beside, within = (thin.filter(where) for where in (pl.col("at") <= end / 2, pl.col("at") > end / 2))
    if beside.height:
        at = alt.Chart(beside).encode(y=y, x=alt.X("at:Q", title=said), text="told:N")
        layers += words_on_sheet(at, align="left", dx=8, **look)
    if within.height:  # beyond a fence so wide the words would lie off the sheet
        at = alt.Chart(within).encode(y=y, x=right_edge(), text="told:N")
        layers += words_on_sheet(at, align="right", dx=-8, **look)
    return layers
