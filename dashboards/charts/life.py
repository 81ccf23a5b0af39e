"""The life curve: of 20 fitted, how many still work."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

import altair as alt
import polars as pl

from dashboards.charts.sheet import band, end_of, marks_to, pick, role, sheet, words_on_sheet
from dashboards.words import OUT_OF, State, still

TICKS_AT = -1.35
COUNTS_AT = -3.75
STRIP = (-7.0, 2.6)


@dataclass(frozen=True, slots=True)
class Life:
    """What a life curve is drawn from; times in years or in thousand km.

    Attributes
    ----------
    law
        time, survival, lower, upper: shares still working, from 0 on; survival may be null.
    steps
        time, survival, at_risk: parts of known age as they failed; may be empty.
    failures
        time, record_id: failures at a known age; may be empty.
    stepped
        Whether `law` is itself a step curve.
    """

    law: pl.DataFrame
    steps: pl.DataFrame
    failures: pl.DataFrame
    stepped: bool = False


def life_curve(life: Life, *, state: State, firm_to: float, ask: float | None, unit: str) -> alt.LayerChart:
    """Draw what the records say in ink up to `firm_to`, in pencil beyond; the strip counts those still watched."""
    end = end_of(life.law)
    x = alt.X(
        "time:Q",
        title=f"{unit} since fitted",
        scale=alt.Scale(domain=[0, end], nice=False),
        axis=marks_to(end),
    )
    twenty = life.law.with_columns(pl.col("survival", "lower", "upper") * OUT_OF)
    low = STRIP[0] if life.steps.height else 2 * TICKS_AT
    if state == "one-sided":
        layers = _one_sided(twenty, x, low)
    else:
        layers = _curve(twenty, x, low, _firm(state, firm_to), stepped=life.stepped) + _asked(twenty, x, _y(low), ask)
    return sheet(
        *_strip(life.steps, x, end),
        *([] if life.stepped else _steps(life.steps, x, firm_to)),
        *layers,
        *_ticks(life.failures, x, unit),
        height=400,
        title="Of 20 fitted, still working",
    )


def _y(low: float) -> alt.Y:
    return alt.Y(
        "survival:Q",
        title=None,
        scale=alt.Scale(domain=[low, OUT_OF], nice=False),
        axis=alt.Axis(values=[0, 5, 10, 15, 20], grid=True, gridDash=[1, 3]),
    )


def _firm(state: State, firm_to: float) -> float:
    return firm_to if state == "ink" else -1.0


def _curve(law: pl.DataFrame, x: alt.X, low: float, firm_to: float, *, stepped: bool) -> list[alt.Chart]:
    firm = law.filter(pl.col("time") <= firm_to)
    thin = law.filter(pl.col("time") >= (firm["time"].to_list()[-1] if firm.height else 0.0))
    y = _y(low)
    how: Literal["step-after", "monotone"] = "step-after" if stepped else "monotone"
    layers = []
    for frame, colour, dash, width in ((firm, "petrol", [1, 0], 3), (thin, "pencil", [2, 4], 2)):
        if frame.height > 1:
            line = alt.Chart(frame).mark_line(interpolate=how, strokeWidth=width, strokeDash=dash, tooltip=None)
            layers += [band(frame, x, colour, dash=dash, step=stepped), line.encode(x=x, y=y, color=role(colour))]
    return layers


def _asked(law: pl.DataFrame, x: alt.X, y: alt.Y, ask: float | None) -> list[alt.Chart]:
    if ask is None:
        return []
    here = law.filter((pl.col("time") - ask).abs() == (pl.col("time") - ask).abs().min()).head(1)
    if here.is_empty() or here["survival"].item() is None:
        return []
    works = still(here["survival"].item() / OUT_OF)
    here = here.with_columns(zero=pl.lit(0.0), label=pl.lit(f"{works} of 20 still work"))
    right = here["time"].item() < law["time"].to_list()[-1] * 0.6
    dashed = alt.Chart(here).mark_rule(strokeDash=[5, 3], tooltip=None)
    return [
        dashed.encode(x=x, y=alt.Y("zero:Q", title=None), y2="survival:Q", color=role("ink")),
        alt.Chart(here).mark_point(filled=True, size=120, opacity=1, tooltip=None).encode(x=x, y=y, color=role("ink")),
        *words_on_sheet(
            alt.Chart(here).encode(x=x, y=y, text="label:N"),
            align="left" if right else "right",
            dx=10 if right else -10,
            dy=-14 if right else 18,  # above a falling line to its right, below it to its left
            fontWeight=600,
        ),
    ]


def _one_sided(law: pl.DataFrame, x: alt.X, low: float) -> list[alt.Chart]:
    """Only the least is known: a solid line with an open end, and no area."""
    least = law.with_columns(survival=pl.col("lower")).drop_nulls("survival")
    end = least.tail(1).with_columns(label=pl.lit("at least so many"))
    y = _y(low)
    line = alt.Chart(least).mark_line(interpolate="monotone", strokeWidth=3, tooltip=None)
    point = alt.Chart(end).mark_point(shape="triangle-up", size=150, filled=True, opacity=1, strokeWidth=2)
    return [
        line.encode(x=x, y=y, color=role("petrol")),
        point.encode(x=x, y=y, fill=alt.FillDatum("paper"), stroke=alt.StrokeDatum("petrol")),
        # a falling line leaves room below its end, never beside it
        *words_on_sheet(alt.Chart(end).encode(x=x, y=y, text="label:N"), align="right", dx=-12, dy=18, fontWeight=600),
    ]


def _steps(steps: pl.DataFrame, x: alt.X, firm_to: float) -> list[alt.Chart]:
    seen = steps.filter(pl.col("time") <= firm_to).with_columns(pl.col("survival") * OUT_OF)
    if seen.is_empty():
        return []
    line = alt.Chart(seen).mark_line(interpolate="step-after", strokeWidth=1.2, tooltip=None)
    return [line.encode(x=x, y=alt.Y("survival:Q", title=None), color=role("ink"))]


def _strip(steps: pl.DataFrame, x: alt.X, end: float) -> list[alt.Chart]:
    if steps.is_empty():
        return []
    shown = steps.filter(pl.col("time") <= end)
    base, high = STRIP
    most = max(1, int(shown["at_risk"].cast(pl.Int64).to_numpy().max()))
    drawn = shown.with_columns(base=pl.lit(base), top=base + high * pl.col("at_risk") / most)
    counts = _spread(shown, end).with_columns(at=pl.lit(COUNTS_AT))
    area = alt.Chart(drawn).mark_area(interpolate="step-before", opacity=0.28, tooltip=None)
    words = alt.Chart(counts).encode(x=x, y=alt.Y("at:Q", title=None), text="at_risk:Q")
    return [
        area.encode(x=x, y=alt.Y("base:Q", title=None), y2="top:Q", color=role("pencil")),
        *words_on_sheet(words, colour="pencil", halo=False, fontSize=12),
    ]


def _spread(steps: pl.DataFrame, end: float, most: int = 8) -> pl.DataFrame:
    """Return at most eight counts, evenly spread."""
    wanted = pl.DataFrame({"wanted": [end * k / most for k in range(most)]})
    near = steps.select("time", "at_risk").sort("time")
    joined = wanted.join_asof(near, left_on="wanted", right_on="time", strategy="forward").drop_nulls()
    return joined.select(time="wanted", at_risk="at_risk")


def _ticks(failures: pl.DataFrame, x: alt.X, unit: str) -> list[alt.Chart]:
    if failures.is_empty():
        return []
    at = failures.with_columns(at=pl.lit(TICKS_AT))
    y = alt.Y("at:Q", title=None)
    told = [
        alt.Tooltip("record_id:N", title="record"),
        alt.Tooltip("time:Q", title=f"failed after, {unit}", format=".1f"),
    ]
    tick = alt.Chart(at).mark_tick(orient="vertical", size=15, thickness=2, opacity=1)
    chosen = alt.Chart(at).mark_point(shape="triangle-up", filled=True, size=160, opacity=1, yOffset=14, tooltip=None)
    target = alt.Chart(at).mark_point(shape="square", size=640, opacity=0, filled=True)
    return [
        tick.encode(x=x, y=y, color=role("oxide"), tooltip=told),
        chosen.encode(x=x, y=y, color=role("oxide")).transform_filter({"param": "pick", "empty": False}),
        target.encode(x=x, y=y, tooltip=told).add_params(pick("record_id")),
    ]
