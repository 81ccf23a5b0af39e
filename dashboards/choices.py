"""The choices of the pages; each lives in the address, so that a page can be sent to a colleague."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards.answers.curves import UNITS
from dashboards.answers.life import GROUPINGS
from dashboards.answers.places import BASES
from dashboards.words import plain, reach

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence


def one_of(
    key: str,
    label: str,
    options: Sequence[str],
    *,
    first: str | None = None,
    said: Callable[[str], str] = str,
    wanted: str | None = None,
) -> str:
    """Choose from a list; a list of one is no choice and is not shown.

    Parameters
    ----------
    key, label, options
        Name in the address, label, values.
    first
        Value to begin with.
    said
        How a value is written.
    wanted
        Help text.
    """
    if len(options) == 1:
        return options[0]
    index = options.index(first) if first in options else 0
    chosen = st.selectbox(label, options, index=index, format_func=said, key=key, bind="query-params", help=wanted)
    return chosen if chosen is not None else options[index]


def side_by_side(key: str, label: str, options: Sequence[str], *, first: str, said: Callable[[str], str] = str) -> str:
    """Choose between a few values that all stay in sight."""
    if len(options) == 1:
        return options[0]
    begin = first if first in options else options[0]
    chosen = st.segmented_control(
        label,
        options,
        default=begin,
        required=True,
        format_func=lambda value: plain(said(value)),
        key=key,
        bind="query-params",
    )
    return chosen if chosen is not None else begin


def component(models: pl.DataFrame) -> str:
    """Choose a component; first comes the one with most failures, of which a life may be shown if there is one."""
    names = models["component"].unique().sort().to_list()
    withheld = ["safety_critical"] if "safety_critical" in models.columns else []
    most = models.sort(*withheld, -pl.col("failures"), "component")["component"][0]
    if len(names) == 1:
        st.markdown(f"Component: **{plain(names[0])}**")
    return one_of("component", "Component", names, first=most)


def scale(models: pl.DataFrame, first: str = "age") -> str:
    """Choose what wear is measured by; `first` is what the records say."""
    present = [name for name in UNITS if name in models["scale"].to_list()]
    return side_by_side(
        "scale", "Measured by", present, first=first, said=lambda s: "years" if s == "age" else "distance"
    )


def grouping(models: pl.DataFrame) -> str:
    """Choose how parts are told apart; rule 33's choice comes first."""
    present = [name for name in GROUPINGS if name in models["grouping"].to_list()]
    usual = models.filter("default_grouping")["grouping"].to_list()
    return one_of("grouping", "Taken", present, first=usual[0] if usual else "component", said=GROUPINGS.__getitem__)


def level(models: pl.DataFrame) -> str:
    """Choose one level of a grouping; rule 33's own come first, then most failures, what nobody told last."""
    untold = pl.col("level") == "unknown"
    ranked = models.sort(untold, ~pl.col("default_grouping"), -pl.col("failures"), "level")
    return one_of("level", "Which", ranked["level"].to_list())


def ask_at(options: Sequence[int], first: int, measured_by: str, of: str) -> int:
    """Choose the age to ask at, for each group `of` parts anew."""
    label = "Ask at, years" if measured_by == "age" else "Ask at, km"
    if len(options) == 1:
        return options[0]
    value: int = st.select_slider(
        label, options, value=first, format_func=lambda t: reach(t, measured_by), key=f"ask-{of}-{measured_by}"
    )
    return value


def basis(options: Sequence[str], first: str) -> str:
    """Choose what a place is compared with."""
    return side_by_side("basis", "Compared with", options, first=first, said=lambda b: BASES.get(b, b))
