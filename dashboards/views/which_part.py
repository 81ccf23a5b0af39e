"""Which part for this car? By the car, its serial or the day it was built."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, words
from dashboards.answers import which_part

if TYPE_CHECKING:
    from dashboards.data import Snapshot

WAYS = ("car", "serial", "build date")
EARLIEST = date(1880, 1, 1)
NOT_ASKED = "Type the serial as it stands on the car; nothing that is typed here is kept."
NOTES = (
    "As the parts list says. A part that looks alike is no part that fits: compare the numbers, not the looks.",
    "A range of serials speaks for the car as it left the works: look at what was changed since.",
)


def show(snapshot: Snapshot) -> None:
    """Ask for a car and a kind of part, and say which number fits; then what contradicts the parts list."""
    fits = snapshot.rows_if_any("part_fit")
    if fits.is_empty():
        return
    st.divider()
    st.header("Which part for this car?", anchor=False)
    kinds = [which_part.EVERY, *fits["component"].unique().sort()]
    left, right = st.columns(2, vertical_alignment="bottom")
    with left:
        component = choices.one_of("kind", "Kind of part", kinds)
    with right:
        way = choices.side_by_side("ask-by", "Ask by", WAYS, first="car")
    asked = fits if component == which_part.EVERY else fits.filter(pl.col("component") == component)
    shown = _of_car(snapshot, component) if way == "car" else _asked(snapshot, asked, way)
    if shown is None:
        st.caption(NOT_ASKED)
    else:
        layout.answer("which-part", which_part.sentence(shown, component), "", NOTES)
        if shown.height:
            _listed(shown)
    if component != which_part.EVERY:
        layout.caution(layout.cautions_of(snapshot, component))
    _contradictions(snapshot)


def beside_story(snapshot: Snapshot, car: str) -> None:
    """List below a car's story which parts fit it, folded; lead on to where any other car is asked for."""
    answers = snapshot.rows_if_any("part_for_car", vehicle_id=car)
    if answers.height:
        with st.expander("Which part for this car, and which only looks like it"):
            shown = which_part.of_car(answers)
            layout.answer("which-part", which_part.sentence(shown, which_part.EVERY), "", NOTES)
            _listed(shown)
            layout.link("shelf", "A car that no record knows", **{"for-car": car})


def _listed(shown: pl.DataFrame) -> None:
    known = [name for name in shown.columns if shown[name].null_count() < shown.height]
    layout.table("which", shown.select(known), "Part numbers that fit this car, or may")


def _of_car(snapshot: Snapshot, component: str) -> pl.DataFrame:
    answers = snapshot.rows_if_any("part_for_car")
    cars = answers["vehicle_id"].unique().sort().to_list()
    if not cars:
        return which_part.of_car(answers)
    car = choices.one_of("for-car", "Car", cars)
    of_it = answers.filter(pl.col("vehicle_id") == car)
    return which_part.of_car(of_it if component == which_part.EVERY else of_it.filter(pl.col("component") == component))


def _asked(snapshot: Snapshot, fits: pl.DataFrame, way: str) -> pl.DataFrame | None:
    named = {*fits["series"].drop_nulls(), *snapshot.rows("vehicle")["series"].drop_nulls()}
    left, right = st.columns(2)
    with left:
        series = choices.one_of("for-series", "Series", [which_part.ALL_SERIES, *sorted(named)])
    with right:
        if way == "serial":
            serial = st.text_input("Serial", key="for-serial").strip()
            return which_part.described(fits, series, serial=serial) if serial else None
        built = st.date_input("Built on", value=None, min_value=EARLIEST, max_value=snapshot.as_of, key="for-built")
    return which_part.described(fits, series, built=built) if isinstance(built, date) else None


def _contradictions(snapshot: Snapshot) -> None:
    """List what contradicts the parts list: records, and the list itself."""
    misfits, found = snapshot.rows_if_any("part_misfit"), snapshot.rows_if_any("catalogue_finding")
    if misfits.height:
        many = words.count(misfits.height, "record shows", "records show")
        st.markdown(
            f"**{words.first_up(many)} a part on a car that it does not fit**  ·  a wrong number or a wrong part"
        )
        layout.table("misfits", which_part.misfits(misfits), "Records of a part on a car it does not fit")
    if found.height:
        many = words.count(found.height, "finding", "findings")
        st.markdown(f"**{words.first_up(many)} about the parts list itself**")
        layout.table("findings", which_part.findings(found), "Contradictions and gaps of the parts list")
