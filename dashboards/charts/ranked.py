"""The same places in order: as many times chance, with the interval and the counts behind it."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboards.charts.sheet import DOTTED, leave, pick, right_edge, role, row_y, rows_high, sheet, words_on_sheet

SAID = "times as many as chance would give"
SHOWN = (0.2, 8.0)


def ranked_places(frame: pl.DataFrame) -> alt.LayerChart:
    """Draw each place as a row, in the frame's order.

    `frame`: location, label, observed, expected, vehicles, shown, shown_lower, shown_upper, sure, few.
    """
    cars = pl.when(pl.col("vehicles") == 1).then(pl.lit("car")).otherwise(pl.lit("cars"))
    visits = pl.when(pl.col("observed") == 1).then(pl.lit("visit")).otherwise(pl.lit("visits"))
    rows = frame.with_columns(
        row=pl.col("location"),
        zero=pl.lit(0.0),
        facts=pl.format("{} {} · {} by chance · {} {}", "observed", visits, chance(), "vehicles", cars),
    )
    scale = alt.Scale(type="log", domain=list(SHOWN), nice=False, clamp=True)
    axis = alt.Axis(values=[0.25, 0.5, 1, 2, 4, 8], format="~r")
    x, y = alt.X("shown:Q", title=SAID, scale=scale, axis=axis), row_y(rows["row"].to_list())
    even = alt.Chart(pl.DataFrame({"shown": [1.0]})).mark_rule(strokeWidth=1.5, tooltip=None)
    sure, calm = rows.filter(pl.col("sure")), rows.filter(~pl.col("sure"))
    layers = [even.encode(x=x, color=role("ink"))]
    if calm.height:
        layers += [*_bars(calm, y, "pencil", 3), _open(calm, x, y), *_label(calm, y, 400)]
    if sure.height:
        layers += [*_bars(sure, y, "oxide", 6), *_diamonds(sure, x, y), *_label(sure, y, 700)]
    facts = alt.Chart(rows).encode(y=y, x=right_edge(), text="facts:N")
    target = alt.Chart(rows).mark_bar(opacity=0, height=52, tooltip=None)
    return sheet(
        *layers,
        *words_on_sheet(facts, colour="pencil", align="right", dy=-12, fontSize=13),
        target.encode(x=alt.value(0), x2=alt.value(alt.expr("width")), y=y).add_params(pick("location")),
        height=rows_high(rows.height),
    )


def chance() -> pl.Expr:
    """Write the number that chance gives: 4.3, 62."""
    expected = pl.col("expected")
    return (
        pl.when(expected < 10)
        .then(expected.round(1))
        .otherwise(expected.round(0))
        .cast(pl.String)
        .str.strip_suffix(".0")
    )


def _bars(frame: pl.DataFrame, y: alt.Y, colour: str, width: int) -> list[alt.Chart]:
    """Draw the intervals: what few cars say dotted and in pencil."""
    bars = []
    for few, drawn_in, dash in ((False, colour, [1, 0]), (True, "pencil", DOTTED)):
        part = frame.filter(pl.col("few") == few)
        if part.height:
            bar = alt.Chart(part).mark_rule(strokeWidth=width, strokeDash=dash, yOffset=9, tooltip=None)
            x = alt.X("shown_lower:Q", title=SAID)
            bars.append(bar.encode(x=x, x2="shown_upper:Q", y=y, color=role(drawn_in)))
    return bars


def _open(frame: pl.DataFrame, x: alt.X, y: alt.Y) -> alt.Chart:
    mark = alt.Chart(frame).mark_point(filled=True, shape="circle", size=120, yOffset=9, strokeWidth=2, opacity=1)
    drawn: alt.Chart = mark.encode(x=x, y=y, fill=alt.FillDatum("paper"), stroke=alt.StrokeDatum("pencil"))
    return drawn


def _diamonds(frame: pl.DataFrame, x: alt.X, y: alt.Y) -> list[alt.Chart]:
    marks = []
    for few, colour in ((False, "oxide"), (True, "pencil")):
        part = frame.filter(pl.col("few") == few)
        if part.height:
            mark = alt.Chart(part).mark_point(filled=True, shape="diamond", size=230, yOffset=9, opacity=1)
            marks.append(mark.encode(x=x, y=y, color=role(colour)))
    return marks


def _label(frame: pl.DataFrame, y: alt.Y, weight: int) -> list[alt.Chart]:
    base = alt.Chart(frame).encode(y=y, x=alt.value(0), text="label:N")
    return words_on_sheet(base, align="left", dy=-12, fontWeight=weight, limit=leave(205))
