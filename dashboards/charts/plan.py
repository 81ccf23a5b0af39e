"""The plan of a car from plain shapes, with a core, a haze and a ring at each place."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboards.charts.sheet import DOTTED, pick, role, sheet, words_on_sheet
from dashboards.placing import NAME_LIMIT, Sheet, placed

TITLES = {"above": "Seen from above", "below": "Looking through the floor"}
MOST_AREA = 2800
HIGH = 590
SHEET = Sheet(wide=280, high=HIGH, left=-0.02, right=1.02, top=-0.02, bottom=1.02)
"""What the places' coordinates measure in pixels, the chart's own padding left out."""

NAMED = 3
Box = tuple[float, float, float, float]


def _across(field: str) -> alt.X:
    return alt.X(f"{field}:Q", axis=None, scale=alt.Scale(domain=[-0.02, 1.02], nice=False))


def _along(field: str) -> alt.Y:
    return alt.Y(f"{field}:Q", axis=None, scale=alt.Scale(domain=[1.02, -0.02], nice=False))


X, Y = _across("x"), _along("y")

BODY: list[Box] = [(0.10, 0.0, 0.90, 1.0)]
WHEELS: list[Box] = [(a, b, a + 0.055, b + 0.125) for a in (0.045, 0.90) for b in (0.11, 0.70)]
INSIDE: dict[str, list[Box]] = {
    "above": [(0.16, 0.39, 0.84, 0.79)],
    "below": [(0.44, 0.26, 0.56, 0.72), (0.14, 0.16, 0.86, 0.18), (0.14, 0.75, 0.86, 0.77)],
}
SEAMS: dict[str, list[Box]] = {
    "above": [(0.10, 0.31, 0.90, 0.31), (0.10, 0.81, 0.90, 0.81)],
    "below": [(0.10, 0.31, 0.90, 0.31), (0.10, 0.66, 0.90, 0.66)],
}


def car_plan(frame: pl.DataFrame, *, deck: str, most: float) -> alt.LayerChart:
    """Draw the places of one deck; area stands for faults, `most` is the largest number on either deck.

    `frame`: location, label, x, y, observed, expected, least, greatest, vehicles, sure, few.
    """
    sure, firm = frame.filter("sure"), pl.col("sure") & ~pl.col("few")
    layers = _car(deck)
    for part, colour, haze, core in (
        (frame.filter(~firm), "pencil", 0.16, 0.75),
        (frame.filter(firm), "oxide", 0.26, 1.0),
    ):
        if part.height:
            layers += [
                _coin(part, "greatest", most, opacity=haze).encode(color=role(colour)),
                _coin(part, "least", most, opacity=core).encode(color=role(colour)),
            ]
    if frame.height:
        layers += _rings(frame, most) + _names(sure, frame, most) + _targets(frame)
    return sheet(*layers, height=HIGH, title=TITLES[deck])


def _shape(boxes: list[Box], **mark: Any) -> alt.Chart:  # noqa: ANN401 - handed on to the mark
    frame = pl.DataFrame(boxes, schema=["x", "y", "x2", "y2"], orient="row")
    drawn: alt.Chart = alt.Chart(frame).mark_rect(tooltip=None, aria=False, **mark).encode(x=X, x2="x2", y=Y, y2="y2")
    return drawn


def _car(deck: str) -> list[alt.Chart]:
    body = _shape(BODY, cornerRadius=46, strokeWidth=2, fillOpacity=0.25)
    wheels = _shape(WHEELS, cornerRadius=7, fillOpacity=0.9)
    inside = _shape(INSIDE[deck], cornerRadius=26 if deck == "above" else 6, strokeWidth=1.5, fillOpacity=0.55)
    seams = pl.DataFrame(SEAMS[deck], schema=["x", "y", "x2", "y2"], orient="row")
    dashed = alt.Chart(seams).mark_rule(tooltip=None, aria=False, strokeDash=[2, 4])
    return [
        body.encode(fill=alt.FillDatum("rule"), stroke=alt.StrokeDatum("rule")),
        wheels.encode(fill=alt.FillDatum("rule")),
        inside.encode(fill=alt.FillDatum("paper"), stroke=alt.StrokeDatum("rule")),
        dashed.encode(x=X, x2="x2", y=Y, color=role("pencil")),
    ]


def _coin(frame: pl.DataFrame, field: str, most: float, **mark: Any) -> alt.Chart:  # noqa: ANN401 - for the mark
    scale = alt.Scale(domain=[0, max(most, 1.0)], range=[0, MOST_AREA])
    size = alt.Size(f"{field}:Q", legend=None, scale=scale)
    drawn: alt.Chart = alt.Chart(frame).mark_circle(tooltip=None, **mark).encode(x=X, y=Y, size=size)
    return drawn


def _rings(frame: pl.DataFrame, most: float) -> list[alt.Chart]:
    """Draw what chance gives; around what few cars say, dotted."""
    few, rest = frame.filter("few"), frame.filter(~pl.col("few"))
    return [
        _coin(part, "expected", most, fillOpacity=0, strokeWidth=width, strokeDash=dash).encode(
            stroke=alt.StrokeDatum(colour)
        )
        for part, colour, width, dash in (
            (frame, "paper", 4, [1, 0]),
            (rest, "ink", 1.6, [1, 0]),
            (few, "ink", 1.6, DOTTED),
        )
        if part.height
    ]


def _names(sure: pl.DataFrame, every: pl.DataFrame, most: float) -> list[alt.Chart]:
    """Name the surest places where no mark is covered, with a line to the mark where the name stands off it."""
    named = placed(sure.head(NAMED), _radii(every, most), SHEET)
    if named.is_empty():
        return []
    off = named.filter("off")
    line = alt.Chart(off).mark_rule(tooltip=None, aria=False, strokeWidth=1.2)
    lines = (
        [line.encode(x=_across("line_x"), y=_along("line_y"), x2="end_x", y2="end_y", color=role("ink"))]
        if off.height
        else []
    )
    base = alt.Chart(named).encode(x=_across("name_x"), y=_along("name_y"), text="label:N")
    return [*lines, *words_on_sheet(base, align="center", baseline="middle", fontWeight=600, limit=NAME_LIMIT)]


def _radii(frame: pl.DataFrame, most: float) -> pl.DataFrame:
    """Add the radius of each mark in pixels, its ring included."""
    largest = pl.max_horizontal("greatest", "expected") / max(most, 1.0)
    return frame.with_columns(radius=(largest * MOST_AREA).sqrt() / 2 + 2)  # a size is a square's area


def _targets(frame: pl.DataFrame) -> list[alt.Chart]:
    told = [
        alt.Tooltip("label:N", title="place"),
        alt.Tooltip("observed:Q", title="visits with a fault"),
        alt.Tooltip("expected:Q", title="by chance", format=".1f"),
        alt.Tooltip("vehicles:Q", title="cars"),
    ]
    target = alt.Chart(frame).mark_circle(size=1500, opacity=0)
    return [target.encode(x=X, y=Y, tooltip=told).add_params(pick("location"))]
