"""Numbers to take along: what a page shows as a CSV file, with where it comes from in every row."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import polars as pl
import streamlit as st

from analytics.cells import neutralised

if TYPE_CHECKING:
    from dashboards.data import Snapshot

LABEL = "These numbers as CSV"
BEFORE = "Before you publish: numbers of few cars may tell whose car it is."
DIGITS = 5
"""Significant digits of figures that are estimates; counts are whole."""


def offer(key: str, snapshot: Snapshot, frame: pl.DataFrame, *about: str) -> None:
    """Offer a frame as a file named after what it is about; without a row, offer nothing.

    Parameters
    ----------
    key
        Page or part of it, unique on the page.
    snapshot
        Where the numbers come from.
    frame
        What is shown, a column's name telling its unit.
    *about
        What was chosen on the page.
    """
    if frame.is_empty():
        return
    st.download_button(
        LABEL,
        table_of(snapshot, frame),
        file_name(key, *about, snapshot.as_of.isoformat()),
        "text/csv",
        key=f"take-{key}",
        icon=":material/download:",
        type="tertiary",
        on_click="ignore",
        help=BEFORE,
    )


def table_of(snapshot: Snapshot, frame: pl.DataFrame) -> bytes:
    """Return the rows as CSV, the day up to which records count and the snapshot's name in each."""
    floats = pl.col(pl.Float64)
    rounded = frame.with_columns(floats.round_sig_figs(DIGITS)) if pl.Float64 in frame.dtypes else frame
    told = rounded.with_columns(records_to=pl.lit(snapshot.as_of), snapshot=pl.lit(snapshot.name))
    return neutralised(told).write_csv().encode()


def file_name(*about: str) -> str:
    """Return a file name that every system takes.

    >>> file_name("lasting", "flap actuator", "2026-11-24")
    'lasting-flap-actuator-2026-11-24.csv'
    """
    plain = (re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") for text in about)
    return f"{'-'.join(filter(None, plain))}.csv"
