"""What stock each way of foretelling would have kept, against what would have been missing."""

from __future__ import annotations

import altair as alt
import polars as pl

from dashboards.charts.sheet import role, sheet, words_on_sheet

SAID = "parts kept on the shelf, on average"
NAME_SPACE = 0.075
DASHES = ([7, 3], [2, 4], [8, 3, 2, 3], [1, 2], [12, 3], [4, 2])


def stock_against_shortage(curves: pl.DataFrame, *, ours: str) -> alt.LayerChart:
    """Draw a line per way, one mark per bound; the one in use in ink, the others in pencil, names at the line ends.

    `curves`: method, quantile, stocked, missing. The lower and the further left a line, the better its way.
    """
    shown = curves.drop_nulls("missing").sort("method", "stocked")
    reach = max(float(shown["missing"].to_numpy().max()), 1.0)
    least, end = float(shown["stocked"].to_numpy().min()), float(shown["stocked"].to_numpy().max())
    room = max(end - least, 0.1) * 0.06
    scale = alt.Scale(domain=[max(0.0, least - room), end + room], nice=False)
    x = alt.X("stocked:Q", title=SAID, scale=scale, axis=alt.Axis(tickCount=6))
    y = alt.Y(
        "missing:Q",
        title=None,
        scale=alt.Scale(domain=[0, reach * 1.08], nice=False),
        axis=alt.Axis(grid=True, gridDash=[1, 3], tickCount=5),
    )
    told = [
        alt.Tooltip("method:N", title="way"),
        alt.Tooltip("quantile:Q", title="should be enough in", format=".0%"),
        alt.Tooltip("stocked:Q", title="kept", format=".2f"),
        alt.Tooltip("missing:Q", title="missing of 100", format=".1f"),
    ]
    layers = []
    others = [name for name in shown["method"].unique().sort() if name != ours]
    for name, dash in [*zip(others, DASHES, strict=False), (ours, [1, 0])]:
        rows, own = shown.filter(pl.col("method") == name), name == ours
        line = alt.Chart(rows).mark_line(strokeWidth=3 if own else 1.5, strokeDash=dash, tooltip=None)
        dots = alt.Chart(rows).mark_point(size=90 if own else 40, filled=True, opacity=1)
        colour = role("petrol" if own else "pencil")
        layers += [line.encode(x=x, y=y, color=colour), dots.encode(x=x, y=y, color=colour, tooltip=told)]
    title = "Of 100 parts needed, so many missing"
    return sheet(*layers, *_tags(shown, ours, reach), height=340, title=title)


def _tags(shown: pl.DataFrame, ours: str, reach: float) -> list[alt.Chart]:
    """Write the names right of the last marks, pushed apart so that none covers another, with dotted leaders."""
    ends = shown.group_by("method", maintain_order=True).last().sort("missing", "method")
    at, places = -1e9, []
    for height in ends["missing"]:
        at = max(height, at + reach * NAME_SPACE)
        places.append(at)
    named = ends.with_columns(at=pl.Series(places, dtype=pl.Float64))
    side, height = alt.value(alt.expr("width + 14")), alt.Y("at:Q", title=None)
    leader = alt.Chart(named).mark_rule(strokeDash=[1, 3], tooltip=None)
    layers = [
        leader.encode(
            x=alt.X("stocked:Q", title=SAID),
            x2=alt.value(alt.expr("width + 12")),
            y=alt.Y("missing:Q", title=None),
            y2="at:Q",
            color=role("pencil"),
        )
    ]
    for own, colour, weight in ((False, "pencil", 400), (True, "ink", 600)):
        rows = named.filter((pl.col("method") == ours) == own)
        if rows.height:
            base = alt.Chart(rows).encode(x=side, y=height, text="method:N")
            layers += words_on_sheet(base, colour=colour, align="left", dx=4, fontWeight=weight, limit=130)
    return layers
