"""Readings over the years, and the limits stated for them."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboards.charts.sheet import pick, role, sheet, words_on_sheet

OUTSIDE = ("below", "above")


def readings_over_years(frame: pl.DataFrame, unit: str) -> alt.LayerChart:
    """Draw each reading on its day; outside the limits as a diamond.

    `frame`: record_id, vehicle_id, read_on, value, verdict, lower, upper.
    """
    rows = frame.with_columns(pl.col("read_on").cast(pl.Datetime("ms")))
    out, calm = (rows.filter(pl.col("verdict").is_in(OUTSIDE) == side) for side in (True, False))
    x = alt.X("read_on:T", title=None, axis=alt.Axis(format="%Y", tickCount=8))
    y = alt.Y("value:Q", title=unit, scale=alt.Scale(zero=False, nice=True))
    layers = [*_limits(rows)]
    for of_it, shape, colour, size in ((calm, "circle", "petrol", 60), (out, "diamond", "oxide", 130)):
        if of_it.height:
            mark = alt.Chart(of_it).mark_point(filled=True, shape=shape, size=size, opacity=0.8, tooltip=None)
            layers.append(mark.encode(x=x, y=y, color=role(colour)))
    target = alt.Chart(rows).mark_point(filled=True, shape="square", size=640, opacity=0)
    told = [alt.Tooltip("vehicle_id:N", title="car"), alt.Tooltip("value:Q", title=unit, format=".4~g")]
    return sheet(*layers, target.encode(x=x, y=y, tooltip=told).add_params(pick("record_id")), height=300)


def _limits(rows: pl.DataFrame) -> list[alt.Chart]:
    drawn = []
    for name, said in (("lower", "least good"), ("upper", "greatest good")):
        stated = rows[name].drop_nulls()
        if stated.len():
            line = alt.Chart(pl.DataFrame({"value": [stated[0]], "said": [said]}))
            y = alt.Y("value:Q", scale=alt.Scale(zero=False, nice=True))
            drawn.append(
                line.mark_rule(strokeWidth=1.5, strokeDash=[6, 4], tooltip=None).encode(y=y, color=role("ink"))
            )
            text = line.encode(y=y, x=alt.value(4), text="said:N")
            drawn += words_on_sheet(text, align="left", dy=-9, fontSize=13)
    return drawn
