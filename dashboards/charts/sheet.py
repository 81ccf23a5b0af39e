"""The drawing sheet: roles instead of colours, so that one chart serves light, dark and print."""

from __future__ import annotations

from typing import Any, Literal

import altair as alt
import polars as pl

ROLES = ("petrol", "oxide", "ochre", "plum", "moss", "sky", "ink", "pencil", "paper", "rule")
"""In the order of the theme's category range, which says which colour each is."""

PICK = "pick"
"""Name of every drawing's selection."""

HIDDEN = 0.0

PHONE = 480
"""Sheets narrower than so many pixels are a phone's."""

DOTTED = [2, 4]
"""Line of what is in pencil."""

STEPS = (1, 2, 2.5, 3, 5)
"""Steps of a time axis, in powers of ten."""


def role(name: str) -> alt.ColorDatum:
    """Colour by meaning."""
    return alt.ColorDatum(name)


def pick(*fields: str) -> alt.Parameter:
    """Let a tap choose a mark by these fields; a double tap lets go."""
    return alt.selection_point(name=PICK, fields=list(fields), empty=False, on="click", clear="dblclick")


def _carriers() -> list[alt.Chart]:
    """Fix the role scale for colour, fill and stroke; one mark with all three would lose its colour."""
    bare = alt.Chart(pl.DataFrame({"_role": ["ink"]})).mark_point(opacity=HIDDEN, size=0, tooltip=None, aria=False)
    scale = alt.Scale(domain=list(ROLES))
    return [
        bare.encode(color=alt.Color("_role:N", scale=scale, legend=None)),
        bare.encode(fill=alt.Fill("_role:N", scale=scale, legend=None)),
        bare.encode(stroke=alt.Stroke("_role:N", scale=scale, legend=None)),
    ]


def sheet(*layers: alt.Chart, height: int, title: str = "") -> alt.LayerChart:
    """Lay the layers over each other on one sheet of paper."""
    chart = alt.layer(*_carriers(), *layers).properties(height=height)
    if title:
        heading = alt.TitleParams(title, anchor="start", frame="group", offset=10, fontSize=15, fontWeight=400)
        chart = chart.properties(title=heading)
    ink, rule = alt.expr("scale('color', 'ink')"), alt.expr("scale('color', 'rule')")
    drawn: alt.LayerChart = (
        chart.properties(autosize=alt.AutoSizeParams(type="fit-x", contains="padding"))
        .configure_axis(
            labelFontSize=14,
            titleFontSize=14,
            titleFontWeight=400,
            labelPadding=6,
            titlePadding=8,
            labelOverlap=True,
            labelLimit=220,
            grid=False,
            ticks=False,
            domain=False,
            labelColor=ink,
            titleColor=ink,
            gridColor=rule,
        )
        .configure_view(strokeWidth=0)
        .configure_text(fontSize=14)
    )
    return drawn


def words_on_sheet(
    base: alt.Chart,
    *,
    colour: str = "ink",
    halo: bool = True,
    **mark: Any,  # noqa: ANN401 - handed on to the text mark
) -> list[alt.Chart]:
    """Write text with a halo of paper, so that it stays readable on lines and bands."""
    text = base.mark_text(tooltip=None, **mark).encode(color=role(colour))
    if not halo:
        return [text]
    under = base.mark_text(tooltip=None, strokeWidth=4, strokeJoin="round", aria=False, **mark)
    return [under.encode(stroke=alt.StrokeDatum("paper"), color=role("paper")), text]


def end_of(frame: pl.DataFrame) -> float:
    """Return where a time axis ends: 24.999 years are 25, so that the last label stands at the end of the line."""
    return round(float(frame["time"].to_numpy().max()), 2)


def marks_to(end: float, most: int = 8) -> alt.Axis:
    """Return a time axis with a label at 0 and one at its end, at most so many steps apart.

    >>> marks_to(25.0).to_dict()["values"], marks_to(12.0).to_dict()["values"]
    ([0, 5, 10, 15, 20, 25], [0, 2, 4, 6, 8, 10, 12])
    """
    steps = [size * 10**power for power in range(-1, 6) for size in STEPS]
    whole = [step for step in steps if step < 1 or step == int(step)]
    fitting = [step for step in whole if 2 <= end / step <= most and abs(end / step - round(end / step)) < 1e-6]
    if not fitting:
        return alt.Axis(tickCount=most, format="~r")
    return alt.Axis(values=[round(fitting[0] * n, 2) for n in range(round(end / fitting[0]) + 1)], format=".6~r")


def leave(pixels: int, on_phone: int = 0) -> Any:  # noqa: ANN401 - an expression of the chart grammar
    """Cut a label so many pixels before the right edge; on a phone's width another number may do."""
    return alt.expr(f"max(60, width - (width < {PHONE} ? {on_phone or pixels} : {pixels}))")


def by_width(short: str, long: str) -> Any:  # noqa: ANN401 - an expression of the chart grammar
    """Write one column on a phone's width and another on a wider sheet."""
    return alt.expr(f"width < {PHONE} ? datum['{short}'] : datum['{long}']")


def right_edge() -> Any:  # noqa: ANN401 - a value of the chart grammar
    """Place text at the right edge, however wide the sheet is."""
    return alt.value(alt.expr("width"))


def row_y(order: list[str], field: str = "row") -> alt.Y:
    """Return a row axis in the given order and without labels: each row carries its own words above its bar."""
    scale = alt.Scale(domain=order, paddingInner=0, paddingOuter=0)
    return alt.Y(f"{field}:O", axis=None, sort=None, scale=scale)


def rows_high(rows: int, per_row: int = 56) -> int:
    """Return the height of so many rows, each finger-sized."""
    return max(1, rows) * per_row


def band(frame: pl.DataFrame, x: alt.X, colour: str, *, dash: list[int] | None = None, step: bool = True) -> alt.Chart:
    """Draw an interval from `lower` to `upper` as a tint whose edge can be seen, dashed like its line."""
    curve: Literal["step-after", "monotone"] = "step-after" if step else "monotone"
    drawn: alt.Chart = (
        alt.Chart(frame)
        .mark_area(interpolate=curve, fillOpacity=0.16, strokeWidth=0.8, strokeDash=dash or [1, 0], tooltip=None)
        .encode(
            x=x,
            y=alt.Y("lower:Q", title=None),
            y2="upper:Q",
            fill=alt.FillDatum(colour),
            stroke=alt.StrokeDatum(colour),
        )
    )
    return drawn
