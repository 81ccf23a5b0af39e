"""Two designs on one sheet."""

from __future__ import annotations

from dataclasses import dataclass

import altair as alt
import polars as pl

from dashboards.charts.sheet import band, end_of, marks_to, role, sheet, words_on_sheet
from dashboards.words import OUT_OF, still


@dataclass(frozen=True, slots=True)
class Line:
    """One design's curve: its name, and time, survival, lower, upper up to where the data end."""

    name: str
    law: pl.DataFrame


LOOKS = (("ochre", [7, 3], "square"), ("petrol", [1, 0], "circle"))


def two_designs(old: Line, new: Line, *, ask: float, unit: str) -> alt.LayerChart:
    """Draw both up to where their data end, joined at the asked age by the difference that matters."""
    end = max(end_of(line.law) for line in (old, new))
    x = alt.X(
        "time:Q",
        title=f"{unit} since fitted",
        axis=marks_to(end),
        scale=alt.Scale(domain=[0, end], nice=False),
    )
    y = alt.Y(
        "survival:Q",
        title=None,
        scale=alt.Scale(domain=[0, OUT_OF]),
        axis=alt.Axis(values=[0, 5, 10, 15, 20], grid=True, gridDash=[1, 3]),
    )
    layers = [
        layer
        for line, (colour, dash, shape) in zip((old, new), LOOKS, strict=True)
        for layer in _line(line, x, y, colour, dash, shape)
    ]
    return sheet(*layers, *_gap(old, new, x, ask), height=340, title="Of 20 fitted, still working")


def _line(line: Line, x: alt.X, y: alt.Y, colour: str, dash: list[int], shape: str) -> list[alt.Chart]:
    twenty = line.law.with_columns(pl.col("survival", "lower", "upper") * OUT_OF)
    end = twenty.tail(1).with_columns(name=pl.lit(line.name))
    stroke = alt.Chart(twenty).mark_line(interpolate="monotone", strokeWidth=3, strokeDash=dash, tooltip=None)
    mark = alt.Chart(end).mark_point(filled=True, size=90, shape=shape, opacity=1, tooltip=None)
    name = alt.Chart(end).encode(x=x, y=y, text="name:N")
    return [
        band(twenty, x, colour, dash=dash, step=False),
        stroke.encode(x=x, y=y, color=role(colour)),
        mark.encode(x=x, y=y, color=role(colour)),
        *words_on_sheet(name, align="right", dx=-8, dy=20, fontWeight=600),
    ]


def at(law: pl.DataFrame, ask: float) -> dict[str, float]:
    """Return the row nearest to the asked age."""
    return law.sort((pl.col("time") - ask).abs()).row(0, named=True)


def _gap(old: Line, new: Line, x: alt.X, ask: float) -> list[alt.Chart]:
    a, b = (at(line.law, ask)["survival"] for line in (old, new))
    more = abs(still(a) - still(b))
    if more == 0:
        return []
    frame = pl.DataFrame(
        {
            "time": [ask],
            "low": [min(a, b) * OUT_OF],
            "high": [max(a, b) * OUT_OF],
            "mid": [(a + b) / 2 * OUT_OF],
            "label": [f"{more} more of 20\nstill work"],
        }
    )
    rule = alt.Chart(frame).mark_rule(strokeWidth=2, tooltip=None)
    end = alt.Chart(frame).mark_tick(orient="horizontal", size=16, thickness=2, opacity=1, tooltip=None)
    words = alt.Chart(frame).encode(x=x, y=alt.Y("mid:Q", title=None), text="label:N")
    return [
        rule.encode(x=x, y=alt.Y("low:Q", title=None), y2="high:Q", color=role("ink")),
        *[end.encode(x=x, y=alt.Y(f"{field}:Q", title=None), color=role("ink")) for field in ("low", "high")],
        *words_on_sheet(words, align="left", dx=10, dy=-8, lineBreak="\n", fontWeight=600),
    ]
