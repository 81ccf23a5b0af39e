"""What fails next: two components with an arrow between them, and which of each pair came first."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import altair as alt
import polars as pl

from dashboards.charts.sheet import by_width, leave, pick, right_edge, role, row_y, rows_high, sheet, words_on_sheet

if TYPE_CHECKING:
    from collections.abc import Mapping

ROW = 56
BELOW = 11
MOST_PIPS = 40
"""Cars in one order up to which each is drawn as a pip."""

LINE = 16
"""Signs of a name on one line of its box."""


def arrow(row: Mapping[str, Any], *, ahead: str, soon: str, behind: str) -> alt.LayerChart:
    """Draw the first component, an arrow with how many cars and how soon, and the second; the way back below it.

    `row`: first, then, verdict; `ahead`, `soon`, `behind`: the words on the arrow, below it, and on the way back.
    """
    strong = row["verdict"] == "more"
    boxes = pl.DataFrame(
        {"low": [0.0, 0.66], "high": [0.34, 1.0], "name": [_broken(row["first"]), _broken(row["then"])]}
    )
    x = alt.X("low:Q", axis=None, scale=alt.Scale(domain=[0, 1], nice=False))
    y = alt.Y("bottom:Q", axis=None, scale=alt.Scale(domain=[0, 1], nice=False))
    frame = alt.Chart(boxes.with_columns(bottom=0.12, top=0.88, half=0.5, middle=(pl.col("low") + pl.col("high")) / 2))
    box = frame.mark_rect(cornerRadius=4, strokeWidth=2, filled=True, fillOpacity=0.08, tooltip=None)
    name = frame.encode(x=alt.X("middle:Q", axis=None), y=alt.Y("half:Q", axis=None), text="name:N")
    colour = "oxide" if strong else "pencil"
    return sheet(
        box.encode(x=x, x2="high:Q", y=y, y2="top:Q", stroke=alt.StrokeDatum("ink"), fill=alt.FillDatum("petrol")),
        *words_on_sheet(name, fontWeight=600, lineBreak="\n", baseline="middle"),
        *_shaft(0.36, 0.635, 0.62, colour, thick=4 if strong else 2),
        *_shaft(0.64, 0.365, 0.2, "pencil", thick=1),
        *_said(ahead, 0.78, weight=600, size=15),
        *_said(soon, 0.47, size=13, colour="pencil"),
        *_said(behind, 0.08, size=13, colour="pencil"),
        height=130,
    )


def _shaft(start: float, end: float, height: float, colour: str, *, thick: int) -> list[alt.Chart]:
    line = alt.Chart(pl.DataFrame({"start": [start], "end": [end], "at": [height]}))
    turn = 90 if end > start else 270
    x, y = alt.X("start:Q", axis=None), alt.Y("at:Q", axis=None)
    shaft: alt.Chart = line.mark_rule(strokeWidth=thick, tooltip=None).encode(x=x, x2="end:Q", y=y, color=role(colour))
    head = line.mark_point(shape="triangle", size=60 + 60 * thick, angle=turn, filled=True, opacity=1, tooltip=None)
    tip: alt.Chart = head.encode(x=alt.X("end:Q", axis=None), y=y, color=role(colour))
    return [shaft, tip]


def _said(text: str, height: float, *, colour: str = "ink", weight: int = 400, size: int = 14) -> list[alt.Chart]:
    if not text:
        return []
    base = alt.Chart(pl.DataFrame({"at": [0.5], "height": [height], "text": [text]}))
    placed = base.encode(x=alt.X("at:Q", axis=None), y=alt.Y("height:Q", axis=None), text="text:N")
    return words_on_sheet(placed, colour=colour, fontWeight=weight, fontSize=size, lineBreak="\n", baseline="middle")


def _broken(name: str) -> str:
    r"""Break a name into lines that fit its box on a phone.

    >>> _broken("vacuum pump diaphragm")
    'vacuum pump\ndiaphragm'
    """
    lines: list[str] = []
    for word in name.split():
        if lines and len(lines[-1]) + len(word) < LINE:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    return "\n".join(lines[:4])


def which_came_first(frame: pl.DataFrame, *, days: int, verdicts: Mapping[str, tuple[str, str]]) -> alt.LayerChart:
    """Draw a row per pair: right of zero the cars in the named order, left of it the other way round.

    `frame`: pair, n_first_then, n_then_first, verdict; `verdicts`: what is said of each, and in short.
    """
    said, short = ({key: told[k] for key, told in verdicts.items()} for k in (0, 1))
    verdict = pl.col("verdict")
    rows = frame.with_columns(row="pair", said=verdict.replace_strict(said), short=verdict.replace_strict(short))
    most = max(int(rows[name].max() or 0) for name in ("n_first_then", "n_then_first"))  # type: ignore[arg-type]
    reach = max(8, most) + 1
    x = alt.X(
        "cars:Q",
        title=f"← the other way round · cars · in this order, within {days} days →",
        scale=alt.Scale(domain=[-reach, reach], nice=False),
        axis=alt.Axis(tickCount=6, labelExpr="abs(datum.value)", tickMinStep=1),
    )
    y = row_y(rows["row"].to_list())
    strong = pl.col("verdict") == "more"
    zero = (
        alt.Chart(pl.DataFrame({"cars": [0]})).mark_rule(strokeWidth=1.5, tooltip=None).encode(x=x, color=role("ink"))
    )
    draw = _pips if most <= MOST_PIPS else _bars
    ahead, behind = _one_side(rows, "n_first_then", 1), _one_side(rows, "n_then_first", -1)
    layers = [zero]
    for part, colour in ((ahead.filter(strong), "oxide"), (ahead.filter(~strong), "pencil"), (behind, "pencil")):
        if part.height:
            layers.append(draw(part, x, y, colour))
    target = alt.Chart(rows).mark_bar(opacity=0, height=ROW - 4, tooltip=None)
    return sheet(
        *layers,
        *_words(rows, y),
        target.encode(x=alt.value(0), x2=alt.value(alt.expr("width")), y=y).add_params(pick("pair")),
        height=rows_high(rows.height, ROW),
    )


def _one_side(rows: pl.DataFrame, column: str, sign: int) -> pl.DataFrame:
    return rows.filter(pl.col(column) > 0).with_columns(reach=sign * pl.col(column))


def _pips(side: pl.DataFrame, x: alt.X, y: alt.Y, colour: str) -> alt.Chart:
    each = side.with_columns(cars=pl.int_ranges(1, pl.col("reach").abs() + 1)).explode("cars", empty_as_null=False)
    each = each.with_columns(cars=pl.col("cars") * pl.col("reach").sign())
    room = alt.expr(f"min(120, pow(.34 * width / {MOST_PIPS // 2}, 2))")
    shape = "diamond" if colour == "oxide" else "circle"
    mark = alt.Chart(each).mark_point(filled=True, opacity=1, size=room, shape=shape, yOffset=BELOW, tooltip=None)
    drawn: alt.Chart = mark.encode(x=x, y=y, color=role(colour))
    return drawn


def _bars(side: pl.DataFrame, x: alt.X, y: alt.Y, colour: str) -> alt.Chart:
    mark = alt.Chart(side.with_columns(cars=pl.lit(0))).mark_bar(height=16, yOffset=BELOW, tooltip=None)
    drawn: alt.Chart = mark.encode(x=x, x2="reach:Q", y=y, color=role(colour))
    return drawn


def _words(rows: pl.DataFrame, y: alt.Y) -> list[alt.Chart]:
    layers = []
    for part, weight in (
        (rows.filter(pl.col("verdict") != "more"), 400),
        (rows.filter(pl.col("verdict") == "more"), 700),
    ):
        if part.height:
            name = alt.Chart(part).encode(y=y, x=alt.value(0), text="row:N")
            layers += words_on_sheet(name, align="left", dy=-12, fontWeight=weight, limit=leave(165, 70))
    told = alt.Chart(rows).encode(y=y, x=right_edge())
    words = words_on_sheet(told, colour="pencil", align="right", dy=-12, fontSize=13, text=by_width("short", "said"))
    return [*layers, *words]
