"""Failures so far, slot by slot."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboards.charts.sheet import DOTTED, band, pick, role, sheet, words_on_sheet

PER = 10
NAME_SPACE = 0.075


def slots_over_time(frame: pl.DataFrame, *, focus: str, unit: str) -> alt.LayerChart:
    """Draw one slot in ink with its band, the others in pencil, names at the line ends.

    `frame`: level, label, time, mcf, lower, upper, failures, few; counts per 10 cars. What few cars or failures say is
    dotted and in pencil.
    """
    one, rest = frame.filter(pl.col("level") == focus), frame.filter(pl.col("level") != focus)
    start, end = float(frame["time"].to_numpy().min()), float(frame["time"].to_numpy().max())
    reach = max(float(frame["mcf"].to_numpy().max()), float(one["upper"].fill_null(0).to_numpy().max()))
    span = max(end - start, 0.1)
    said = f"age of the car, {unit}" if unit == "years" else f"distance of the car, {unit}"
    x = alt.X(
        "time:Q",
        title=said,
        axis=alt.Axis(tickCount=6, format="~r"),
        scale=alt.Scale(domain=[start, start + span], nice=False),
    )
    y = alt.Y(
        "mcf:Q",
        title=None,
        axis=alt.Axis(grid=True, gridDash=[1, 3], tickCount=5),
        scale=alt.Scale(domain=[0, reach * 1.08], nice=False),
    )
    thin = bool(one["few"].any())
    colour, dash = ("pencil", DOTTED) if thin else ("petrol", [1, 0])
    layers = [band(one.drop_nulls(["lower", "upper"]), x, colour, dash=dash)]
    for few, dashed in ((False, [1, 0]), (True, DOTTED)):
        part = rest.filter(pl.col("few") == few)
        if part.height:
            others = alt.Chart(part).mark_line(
                interpolate="step-after", strokeWidth=1.5, strokeDash=dashed, tooltip=None
            )
            layers.append(others.encode(x=x, y=y, detail="level:N", color=role("pencil")))
    chosen = alt.Chart(one).mark_line(interpolate="step-after", strokeWidth=3, strokeDash=dash, tooltip=None)
    layers.append(chosen.encode(x=x, y=y, color=role(colour)))
    names = _names(frame, reach)
    return sheet(*layers, *_tags(names, said, focus), height=360, title="Failures so far per 10 cars")


def _names(frame: pl.DataFrame, reach: float) -> pl.DataFrame:
    """Place the names right of the data, pushed apart so that none covers another."""
    ends = frame.sort("time").group_by("level", maintain_order=True).last().sort("mcf", "level")
    at, places = -1e9, []
    for height in ends["mcf"]:
        at = max(height, at + reach * NAME_SPACE)
        places.append(at)
    return ends.with_columns(
        at=pl.Series(places, dtype=pl.Float64),
        words=pl.format("{} · {}", "label", "failures"),
    )


def _tags(names: pl.DataFrame, said: str, focus: str) -> list[alt.Chart]:
    side = alt.value(alt.expr("width + 14"))
    height = alt.Y("at:Q", title=None)
    layers = []
    for frame, colour, weight in (
        (names.filter(pl.col("level") != focus), "pencil", 400),
        (names.filter(pl.col("level") == focus), "ink", 600),
    ):
        if frame.height:
            base = alt.Chart(frame).encode(x=side, y=height, text="words:N")
            layers += words_on_sheet(base, colour=colour, align="left", dx=4, fontWeight=weight, limit=150)
    leader = alt.Chart(names).mark_rule(strokeDash=[1, 3], tooltip=None)
    target = alt.Chart(names).mark_point(shape="square", size=900, opacity=0, filled=True, xOffset=40)
    told = [alt.Tooltip("label:N", title="slot"), alt.Tooltip("failures:Q")]
    return [
        *layers,
        leader.encode(
            x=alt.X("time:Q", title=said),
            x2=alt.value(alt.expr("width + 12")),
            y=alt.Y("mcf:Q", title=None),
            y2="at:Q",
            color=role("pencil"),
        ),
        target.encode(x=side, y=height, tooltip=told).add_params(pick("level")),
    ]
