"""Beside a life: whether age or distance wears the part, and which of its kinds last longer."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from dashboards import words
from dashboards.answers import designs, life, told_apart

if TYPE_CHECKING:
    from dashboards.answers.said import Row
    from dashboards.data import Snapshot

FAILURES = 10
SURE = 0.05


def scale_first(snapshot: Snapshot, component: str) -> str:
    """Return the scale to begin with: distance where the records say so, else age."""
    rows = snapshot.rows("scale_choice", component=component)
    return "distance" if rows.height and rows["verdict"].item(0) == "distance" else "age"


def wears_by(snapshot: Snapshot, component: str) -> None:
    """Say whether age or distance wears it."""
    for row in snapshot.rows("scale_choice", component=component).iter_rows(named=True):
        sentence = told_apart.wears_by(row, snapshot.number("scale_failures", FAILURES))
        st.caption(words.unbroken(words.plain(sentence)))


def show(snapshot: Snapshot, models: pl.DataFrame, grouping: str) -> None:
    """Say which kinds last longer, and which way of taking them tells them apart best.

    The two designs that stand side by side further down have their sentence there.
    """
    first = models.row(0, named=True)
    pairs = snapshot.rows("comparison", component=first["component"], scale=first["scale"])
    two = [row["level"] for row in designs.pair(models, snapshot.number("own_failures", life.OWN_FAILURES))]
    below = (pl.col("grouping") == "variant") & pl.col("level_a").is_in(two) & pl.col("level_b").is_in(two)
    for sentence in told_apart.told_apart(pairs.filter(~below), grouping, _sure(snapshot)):
        st.caption(words.plain(sentence))
    if two and pairs.filter(below & pl.col("told_apart_best")).height and grouping != "variant":
        st.caption(words.plain(f"These parts are told apart best {life.GROUPINGS['variant']}: see below."))


def of_two(snapshot: Snapshot, models: list[Row]) -> tuple[str, ...]:
    """Say which of two designs lasts longer; nothing where they were not compared."""
    levels = [model["level"] for model in models]
    group = {name: models[0][name] for name in ("component", "grouping", "scale")}
    pairs = snapshot.rows("comparison", **group)
    rows = pairs.filter(pl.col("level_a").is_in(levels) & pl.col("level_b").is_in(levels))
    return tuple(told_apart.longer(row, _sure(snapshot)) for row in rows.iter_rows(named=True))


def _sure(snapshot: Snapshot) -> float:
    return float(snapshot.named.get("difference_p", SURE))
