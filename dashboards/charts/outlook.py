"""The shelf against twenty equally likely outlooks."""

from __future__ import annotations

from typing import Any

import altair as alt
import polars as pl

from dashboards.charts.sheet import role, sheet, words_on_sheet

SAID = "parts needed before the delivery after this one"
MOST_PILES = 28
HIGH, WORDS = 270, 56
"""Height of the sheet, and of the two lines of words above the piles, pixels."""

LOOKS = (("shelf", "circle", True), ("order", "square", False), ("short", "diamond", True))


def shelf_outlook(need: pl.DataFrame, *, held: float | None, order: int) -> alt.LayerChart:
    """Stack the outlooks as marks; the shelf, and the shelf with the order, are fences.

    `need`: column need, one row per outlook. Without a stock count (`held` None) there are no fences.
    """
    end = max(int(need["need"].to_numpy().max()), (held or 0) + order) + 1.5
    wide = max(1.0, end / MOST_PILES)
    marks = piled(zones(need, held=held, order=order), wide)
    tallest = int(marks["pile"].to_numpy().max())
    top = max((tallest + 0.5) / (1 - WORDS / HIGH), 4.4)
    x = alt.X(
        "at:Q",
        title=SAID,
        scale=alt.Scale(domain=[-0.5, end], nice=False),
        axis=alt.Axis(tickMinStep=1, tickCount=8, format="d"),
    )
    y = alt.Y("pile:Q", axis=None, scale=alt.Scale(domain=[0, top], nice=False))
    layers = [] if held is None else _fences(held, order, top, end)
    size = _size((end + 0.5) / wide, top)
    for zone, shape, filled in LOOKS:
        part = marks.filter(pl.col("zone") == zone)
        if part.height:
            layers.append(_marks(part, x, y, (shape, filled), size))
    return sheet(*layers, height=HIGH, title="Twenty equally likely outlooks, one mark each")


def zones(need: pl.DataFrame, *, held: float | None, order: int) -> pl.DataFrame:
    """Say of each outlook who covers it: the shelf, the order, or nobody."""
    covered = pl.lit(float("inf")) if held is None else pl.lit(float(held))
    zone = (
        pl.when(pl.col("need") <= covered)
        .then(pl.lit("shelf"))
        .when(pl.col("need") <= covered + order)
        .then(pl.lit("order"))
        .otherwise(pl.lit("short"))
    )
    return need.sort("need").with_columns(zone=zone)


def piled(marks: pl.DataFrame, wide: float) -> pl.DataFrame:
    """Stack outlooks that lie within one mark's width of each other and in one zone, at their mean.

    Adds columns at and pile (1 = lowest).
    """
    piles: list[list[int]] = []
    last = (-1.0, "")
    for need, zone in marks.select("need", "zone").iter_rows():  # twenty of them
        if zone != last[1] or need - last[0] >= wide:
            piles.append([])
            last = (float(need), zone)
        piles[-1].append(need)
    at = [sum(pile) / len(pile) for pile in piles for _ in pile]
    high = [k for pile in piles for k in range(1, len(pile) + 1)]
    return marks.with_columns(at=pl.Series(at, dtype=pl.Float64), pile=pl.Series(high, dtype=pl.Int64))


def _size(across: float, top: float) -> Any:  # noqa: ANN401 - an expression of the chart grammar
    """Shrink the marks with the sheet, so that they never touch, side by side or one above the other."""
    return alt.expr(f"min({min(400.0, (0.78 * HIGH / top) ** 2)}, pow(.72 * width / {across}, 2))")


def _marks(part: pl.DataFrame, x: alt.X, y: alt.Y, look: tuple[str, bool], size: Any) -> alt.Chart:  # noqa: ANN401
    shape, filled = look
    colour = "oxide" if shape == "diamond" else "petrol"
    mark = alt.Chart(part).mark_point(shape=shape, size=size, filled=True, opacity=1, strokeWidth=2.5)
    drawn: alt.Chart = mark.encode(
        x=x,
        y=y,
        fill=alt.FillDatum(colour if filled else "paper"),
        stroke=alt.StrokeDatum(colour),
        tooltip=[alt.Tooltip("need:Q", title="needed in this outlook")],
    )
    return drawn


def _fences(held: float, order: int, top: float, end: float) -> list[alt.Chart]:
    rows = [(-0.5, held + 0.5, f"can be counted on: {held:g}", 0.20, top * (1 - 6 / HIGH))]
    if order:
        rows.append(
            (held + 0.5, held + order + 0.5, f"with {order} ordered: {held + order:g}", 0.09, top * (1 - 32 / HIGH))
        )
    layers = []
    for a, b, words, tint, high in rows:
        frame = pl.DataFrame({"a": [a], "b": [b], "words": [words], "high": [high]})
        left, right = alt.X("a:Q", title=SAID), alt.X("b:Q", title=SAID)
        shade = alt.Chart(frame).mark_rect(opacity=tint, tooltip=None)
        fence = alt.Chart(frame).mark_rule(strokeWidth=2.5, tooltip=None)
        said = alt.Chart(frame).encode(x=right, y=alt.Y("high:Q", axis=None), text="words:N")
        narrow = b < end / 3
        layers += [
            shade.encode(x=left, x2="b:Q", color=role("petrol")),
            fence.encode(x=right, color=role("ink")),
            *words_on_sheet(
                said,
                align="left" if narrow else "right",
                dx=8 if narrow else -8,
                baseline="top",
                fontWeight=600,
            ),
        ]
    return layers
