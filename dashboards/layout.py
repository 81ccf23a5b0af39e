"""The pieces every page is made of: answer, blank box, records drawer, caution, last line."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Literal

import polars as pl
import streamlit as st

from analytics.safety import critical_by_name
from dashboards import routes, theme
from dashboards.answers import left_out
from dashboards.answers.said import NO_SLOT
from dashboards.cautions import cautions
from dashboards.charts.sheet import PICK
from dashboards.words import day, plain, unbroken

if TYPE_CHECKING:
    from collections.abc import Sequence

    import altair as alt

    from analytics.errors import SnapshotError
    from dashboards.answers.said import Said
    from dashboards.data import Snapshot

DATE = "YYYY-MM-DD"
ROW, MOST_ROWS = 37, 7
"""Height of a table's row in pixels, and the rows shown before it scrolls."""

HEADINGS: dict[str, Any] = {
    "record_id": "record",
    "vehicle_id": "car",
    "part_no": "part",
    "odometer_km": st.column_config.NumberColumn("km", format="%d"),
    "closed_on": st.column_config.DateColumn("closed", format=DATE),
    "handed_on": st.column_config.DateColumn("handed over", format=DATE, width=95),
    "returned_on": st.column_config.DateColumn("came back", format=DATE, width=95),
    "first_job": st.column_config.TextColumn("record", width=85),
    "first_part": st.column_config.TextColumn("part", width=70),
    "second_job": st.column_config.TextColumn("record then", width=85),
    "second_part": st.column_config.TextColumn("part then", width=72),
    "then_done": st.column_config.TextColumn("then done", width=85),
    "days": st.column_config.NumberColumn("days", width=50),
    "km": st.column_config.NumberColumn("km", format="%d", width=55),
    "first_on": st.column_config.DateColumn("came in", format=DATE),
    "then_job": "record then",
    "then_on": st.column_config.DateColumn("came in then", format=DATE),
    "sum": st.column_config.NumberColumn("sum", format="%.2f"),
    "on": st.column_config.DateColumn("on", format=DATE),
}


def dress() -> None:
    """Add the few style rules that the theme cannot hold."""
    st.html(theme.STYLE)


def answer(key: str, sentence: str, evidence: str, notes: Sequence[str] = ()) -> None:
    """Answer first: one sentence in serif, one line of evidence, then what must be known beside it."""
    with st.container(key=f"answer-{key}", gap="xxsmall"):
        st.subheader(unbroken(plain(sentence)), anchor=False)
        st.markdown(evidence)
        for note in notes:
            st.caption(plain(note))


def blank(key: str, sentence: str, lines: Sequence[str], evidence: str = "") -> None:
    """Leave the drawing's place empty, and say what is missing and what can be said all the same."""
    with st.container(key=f"blank-{key}"):
        st.subheader(plain(sentence), anchor=False)
        for line in lines:
            st.markdown(plain(line))
    if evidence:
        st.markdown(evidence)


def say(key: str, said: Said) -> None:
    """Show an answer; where there is too little to say, in a blank box."""
    if said.state == "blank":
        blank(key, said.sentence, said.notes, said.evidence)
    else:
        answer(key, said.sentence, said.evidence, said.notes)


def drawing(
    key: str, chart: alt.LayerChart, told: str, *, taps: bool = True, width: Literal["stretch"] | int = "stretch"
) -> list[dict[str, Any]]:
    """Draw a chart and return what is tapped on it, one dictionary per mark.

    Parameters
    ----------
    key
        Name of the drawing; another key forgets the tap.
    chart
        As from ``dashboards.charts``.
    told
        What the drawing shows, for people who do not see it.
    taps
        Whether the chart has marks to tap.
    width
        Pixels, or as wide as the page.
    """
    event: Any = st.altair_chart(chart, width=width, on_select="rerun" if taps else "ignore", key=key, alt=told)
    return list(event.selection.get(PICK, [])) if taps else []


NO_RECORD = "No record stands behind this yet."


def records(
    key: str,
    frame: pl.DataFrame,
    chosen: Sequence[str] = (),
    *,
    field: str = "record_id",
    hint: str,
    nothing: str = NO_RECORD,
) -> None:
    """Show the records behind the number, or those of the mark that was tapped; without any, say so."""
    shown = frame.filter(frame[field].is_in(list(chosen))) if chosen else frame
    told = f"  ·  {hint}" if hint and not chosen else ""
    if frame.is_empty():
        st.caption(nothing)
        return
    st.markdown(f"**Records behind this**  ·  {shown.height} of {frame.height}{told}")
    table(f"records-{key}", shown, "Records behind the number above")
    cars = shown["vehicle_id"].unique().to_list() if chosen and "vehicle_id" in shown.columns else []
    if len(cars) == 1:
        link("one-car", f"This car's story: {cars[0]}", car=cars[0])


def table(key: str, frame: pl.DataFrame, told: str) -> None:
    """Show rows; what is not known, and a slot that has no name, stays empty."""
    if "position" in frame.columns:
        named = pl.when(~pl.col("position").is_in(NO_SLOT)).then("position")
        frame = frame.with_columns(position=named)
    st.dataframe(
        frame,
        hide_index=True,
        column_config=HEADINGS,
        height=ROW * (min(frame.height, MOST_ROWS) + 1) + 2,
        placeholder="",
        key=key,
        alt=told,
    )


def link(page: str, label: str, **query: str) -> None:
    """Lead to another page, with its choices made."""
    st.page_link(
        routes.pages()[page],
        label=plain(label),
        icon=":material/arrow_forward:",
        icon_position="right",
        query_params=query,
    )


def caution(texts: Sequence[str]) -> None:
    """Warn where someone would act; one kind of box, one symbol, nothing else looks like it."""
    for text in texts:
        st.warning(plain(text), icon=":material/health_and_safety:")


def cautions_of(snapshot: Snapshot, *components: str) -> tuple[str, ...]:
    """Return the cautions that concern these components, by their names, systems and flags."""
    models = snapshot.rows("life_model")
    of_them = models.filter(models["component"].is_in(list(components)))
    names = [*components, *(str(v) for c in ("system", "family") for v in of_them[c].drop_nulls().unique().sort())]
    critical = of_them.filter("safety_critical")
    by_name = critical.height > 0 and critical["safety_told_by"].eq_missing("by name").all()
    return cautions(*names, safety=critical.height > 0, by_name=by_name)


def safety_critical(snapshot: Snapshot, component: str) -> bool:
    """Return whether no life of this component may be shown (rule 39); one never watched goes by its name."""
    models = snapshot.rows("life_model", component=component)
    return critical_by_name(component) if models.is_empty() else bool(models["safety_critical"].any())


def title_of(page: str) -> str:
    """Return a page's name in the bar."""
    return routes.NAMES[page][0]


def nothing_yet(error: SnapshotError) -> None:
    """Say what to do before there is anything to show."""
    st.title("Nothing to show yet", anchor=False)
    blank("nothing", first_letter_up(error.what), (error.where, f"Next: {error.next_step}"))


def first_letter_up(text: str) -> str:
    """Begin a sentence with this text, and end it."""
    return f"{text[:1].upper()}{text[1:]}."


def last_line(snapshot: Snapshot) -> None:
    """End every page with the name of the result it shows, and what it is made of."""
    counted = left_out.of_all(snapshot.rows("vehicle"), snapshot.rows("record"), snapshot.rows("fault"))
    st.caption(plain(f"Snapshot {snapshot.name} · records to {day(snapshot.as_of)}{counted}"))
