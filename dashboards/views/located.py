"""Which place of the car fails again and again: answer, two plans and ranks, and the faults behind them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import choices, layout, take_along
from dashboards.answers import numbers, places
from dashboards.views import plan

if TYPE_CHECKING:
    from dashboards.data import Snapshot


def show(snapshot: Snapshot, frame: pl.DataFrame, faults: pl.DataFrame) -> None:
    """Draw the first question of the page: choices, answer, plans and ranks, the faults behind them.

    Parameters
    ----------
    snapshot
        The newest snapshot.
    frame
        As from `places.ready`.
    faults
        Rows of ``fault``.
    """
    usual, names = places.usual(frame), ["all", *sorted(s for s in frame["series"].unique() if s != "all")]
    columns = st.columns([2, 4, 4], vertical_alignment="bottom")
    with columns[0]:
        series = choices.one_of("series", "Series", names, first=usual[0])
    of_it = frame.filter(pl.col("series") == series)
    with columns[1]:
        basis = choices.basis(of_it["basis"].unique().sort().to_list(), usual[1])
    with columns[2]:
        wide = (
            len(set(of_it["wide"])) > 1
            and choices.side_by_side("fine", "Taken", ["single places", "wider areas"], first="single places")
            == "wider areas"
        )
    shown = places.of_level(of_it.filter(pl.col("basis") == basis), wide=wide)
    cars = snapshot.rows("vehicle") if series == "all" else snapshot.rows("vehicle", series=series)
    of_them = faults if series == "all" else faults.filter(pl.col("series") == series)
    tree = frame.select("location", "parent").unique()
    here = of_them.filter(pl.col("location").is_in(places.with_parts(shown["location"].to_list(), tree)))
    missing = of_them["location"].null_count()
    lost = places.not_compared(of_it, shown)
    said = places.place_answer(shown, cars.height, here.height, snapshot.as_of, lost)
    without = places.no_place(of_them.height, missing, max(shown["blanks"].to_list(), default=0))
    told = f"{without} {places.blanks_could(shown)}" if without else ""
    areas = "" if wide else places.of_area_only(of_them.height - missing - here.height)
    layout.say("where", replace(said, notes=tuple(filter(None, (*said.notes, areas, told)))))
    tapped = plan.show(shown, places.MOST_ROWS, f"{series}-{basis}-{wide}")
    plan.faults(snapshot, here, tapped, tree, plan.hint(shown))
    take_along.offer("where", snapshot, numbers.of_places(shown), series, places.BASES[basis])
