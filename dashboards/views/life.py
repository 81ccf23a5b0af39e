"""The life curve of one group, with its answer and its records."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, take_along, words
from dashboards.answers import curves, left_out, life, numbers, turns_on
from dashboards.charts.life import Life, life_curve

if TYPE_CHECKING:
    from dashboards.answers.said import Row, Said
    from dashboards.data import Snapshot

LEAST = 5
HINT = "Tap a tick to see its record."
EVERY = "Every failure that counts."
NO_FAILURE = "No failure counts here so far, so no record is listed."


@dataclass(frozen=True, slots=True)
class LifeView:
    """What one group's curve is drawn from, in the snapshot's units.

    Attributes
    ----------
    survival, curve
        Rows of ``life_survival`` and ``survival_curve``.
    spells
        The group's spells.
    failures
        Its failures with their records.
    firm, end
        Times up to which the curve is in ink, and is drawn.
    name
        The group in one word, so that what was tapped on another group's curve is forgotten.
    """

    survival: pl.DataFrame
    curve: pl.DataFrame
    spells: pl.DataFrame
    failures: pl.DataFrame
    firm: int
    end: int
    name: str


def view(snapshot: Snapshot, group: dict[str, str]) -> LifeView:
    """Collect what belongs to a group: component, grouping, level and scale."""
    survival, curve = snapshot.rows("life_survival", **group), snapshot.rows("survival_curve", **group)
    records = snapshot.rows("record")
    all_spells = snapshot.rows("spell", component=group["component"], scale=group["scale"])
    spells = curves.of_group(all_spells, records, group["grouping"], group["level"])
    firm = curves.firm_to(spells, survival, snapshot.number("risk_set_least", LEAST))
    end = curves.drawn_to(survival, firm, spells) if survival.height else 0
    return LifeView(survival, curve, spells, curves.failures(spells, records), firm, end, "-".join(group.values()))


def ask(shown: LifeView, scale: str) -> int | None:
    """Choose the age asked at, None where the snapshot holds no curve."""
    if shown.survival.is_empty():
        return None
    options = curves.ask_options(shown.survival, shown.end)
    if not options:
        return None
    return choices.ask_at(options, curves.usual_ask(options, shown.failures, shown.firm), scale, shown.name)


def show(snapshot: Snapshot, shown: LifeView, model: Row, asked: int | None) -> None:
    """Draw answer, curve and records."""
    needed = snapshot.number("own_failures", life.OWN_FAILURES)
    here = None if asked is None else curves.row_at(shown.survival, asked)
    said = life.life_answer(model, here, snapshot.as_of, needed, shown.spells["vehicle_id"].n_unique())
    untold = life.untold(int(shown.spells.filter("reason_recorded")["event"].sum()), model["failures"])
    counted = left_out.of_lives(snapshot.rows("fault", component=model["component"]), model)
    otherwise = turns_on.in_short(
        snapshot.rows("sensitivity", component=model["component"]), said.state, model["scale"]
    )
    notes = (*said.notes, otherwise, untold, counted)
    layout.say("life", replace(said, notes=tuple(filter(None, notes))))
    chosen = [] if said.state == "blank" else _draw(shown, model["scale"], said, asked or 0)
    hint = HINT if said.state != "blank" and shown.failures["time"].count() else EVERY
    layout.records("life", shown.failures.drop("time"), chosen, hint=hint, nothing=NO_FAILURE)
    if said.state != "blank":
        _offer(snapshot, shown, model, said.state)


def _sheet(shown: LifeView, scale: str) -> tuple[Life, float]:
    """Return what is drawn, and up to which age or distance it is firm, in shown units."""
    size = curves.UNITS[scale][1]
    coarse = curves.told_by_steps(shown.curve, shown.survival)
    last = max(shown.spells["exit"].to_list(), default=0) if coarse else shown.end
    drawing = Life(
        curves.law_of_steps(shown.curve, scale, last) if coarse else curves.law(shown.survival, scale, shown.end),
        curves.steps(shown.curve, shown.survival, scale, last),
        shown.failures.drop_nulls("time")
        .select(pl.col("time") / size, "record_id")
        .filter(pl.col("time") <= last / size),
        stepped=coarse,
    )
    return drawing, (curves.firm_steps(shown.curve, LEAST) if coarse else shown.firm) / size


def _draw(shown: LifeView, scale: str, said: Said, asked: int) -> list[str]:
    unit, size = curves.UNITS[scale]
    drawing, firm = _sheet(shown, scale)
    ask = None if drawing.stepped else asked / size
    chart = life_curve(drawing, state=said.state, firm_to=firm, ask=ask, unit=unit)
    told = f"Life curve: of 20 fitted, how many still work by {unit} since fitted. {said.sentence}"
    tapped = layout.drawing(f"life-{shown.name}", chart, told, taps=drawing.failures.height > 0)
    st.caption(words.plain(_how_to_read(shown, scale, said.state, stepped=drawing.stepped)))
    return [row["record_id"] for row in tapped]


def _offer(snapshot: Snapshot, shown: LifeView, model: Row, state: words.State) -> None:
    drawing, firm = _sheet(shown, model["scale"])
    group = {name: model[name] for name in ("component", "grouping", "level")}
    counts = {"failures": model["failures"], "parts": model["units"], "cars": shown.spells["vehicle_id"].n_unique()}
    rows = numbers.of_life(drawing.law, model["scale"], state, firm)
    named = rows.select(*(pl.lit(value).alias(name) for name, value in group.items()), *rows.columns)
    told = named.with_columns(pl.lit(value).alias(name) for name, value in counts.items())
    take_along.offer("lasting", snapshot, told, *group.values(), model["scale"])


def _how_to_read(shown: LifeView, scale: str, state: words.State, *, stepped: bool) -> str:
    told = ["The band holds the truth in 9 of 10 such cases."] if state != "one-sided" else []
    if shown.curve.height:
        line = "The line" if stepped else "Thin steps"
        told.append(f"{line}: parts whose age is known, as they failed. Strip: how many of these were still watched.")
    known = shown.failures.drop_nulls("time").height
    if known:
        told.append("Each tick: one failure.")
    if shown.failures.height > known:
        told.append(words.untimed(shown.failures.height - known))
    if state == "ink" and 0 < shown.firm < shown.end and not stepped:
        told.append(words.thin_tail(words.reach(shown.firm, scale), LEAST))
    return " ".join(told)


def safety_page(snapshot: Snapshot, component: str, models: pl.DataFrame) -> None:
    """Show a safety-critical part: caution first, counts and records, and no life of any kind (rule 39)."""
    layout.caution(layout.cautions_of(snapshot, component))
    rows = models.filter((pl.col("grouping") == "component") & (pl.col("scale") == "age"))
    model = (rows if rows.height else models).row(0, named=True)
    spells = snapshot.rows("spell", component=component, scale=model["scale"])
    line = life.evidence(model, "ink", snapshot.as_of, spells["vehicle_id"].n_unique())
    counted = left_out.of_lives(snapshot.rows("fault", component=component), model)
    layout.answer("safety", words.safety_critical(component), line, (counted,) if counted else ())
    failed = curves.failures(spells, snapshot.rows("record")).drop("time")
    layout.records("safety", failed, hint=EVERY, nothing=NO_FAILURE)
