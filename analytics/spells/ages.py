"""Spells by age: the time that each stretch was watched, long stays in the workshop taken out (rules 25 to 27)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.spells.events import days_of, numbers_of, windows_of
from analytics.spells.fates import NO_TIME, fates_of, silent_ends, watched_until, whole_pieces, why_none
from analytics.spells.marks import NO_DAY, SPAN
from analytics.spells.run_sql import create_table, hand_in, query
from analytics.spells.slot_events import events_of
from analytics.spells.stretches import Lives, stretches_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    import duckdb

    from analytics.spells.events import Days, Numbers
    from analytics.spells.fates import Fates
    from analytics.spells.steps import Steps


@dataclass(frozen=True, slots=True)
class Ages:
    """Spells by age.

    Attributes
    ----------
    fates
        What became of each stretch if watching ends on the last neutral visit (rule 23).
    why_none
        Why each gives no spell, a number of `fates.WHY_NONE`; 0 where it gives one; shape ``(stretches,)``.
    pieces
        By choice of the end of watching: ending, stretch_id, entry, exit, exit_lower (days), event, vehicle_age
        (days), is_last; sorted by stretch_id and entry.
    """

    fates: Fates
    why_none: Numbers
    pieces: tuple[pl.DataFrame, ...]


def read_lives(
    connection: duckdb.DuckDBPyConnection, values: Mapping[str, object], steps: Steps, window: Numbers
) -> Lives:
    """Return units' lives.

    Parameters
    ----------
    connection
        A connection on which the tables of the history and the table ``fitting`` stand.
    values
        Values of the parameters of the selects, by name.
    steps
        The repairs by number.
    window
        Component of the car of each position, 0, 1, 2, shape ``(slots,)``.
    """
    papers = connection.table("fitting").pl()
    windows = windows_of(query(connection, "watch_end", values))
    events = events_of(steps, papers, window.size)
    return Lives(windows, events, stretches_of(window, windows, events, papers))


def ages_of(connection: duckdb.DuckDBPyConnection, values: Mapping[str, object], lives: Lives) -> Ages:
    """Return the spells by age, once per choice of the day on which watching ends.

    Parameters
    ----------
    connection
        A connection on which the tables of the history stand.
    values
        Values of the parameters of the selects, by name.
    lives
        Units' lives.
    """
    stretches, windows = lives.stretches, lives.windows
    hand_in(connection, "silent_end", silent_ends(lives))
    good_on = _by_stretch(query(connection, "last_good", values), stretches.slot.size)
    endings = range(len(windows.end_on))
    every = [fates_of(lives, good_on, ending) for ending in endings]
    laid_up = np.isin(stretches.slot + 1, numbers_of(query(connection, "laid_up", values)["slot_no"]))
    asked = [np.flatnonzero(fates.has_spell & laid_up) for fates in every]
    fates_asked = [watched_until(lives, every[ending], asked[ending], ending) for ending in endings]
    hand_in(connection, "stretch_fate", pl.concat(fates_asked))
    create_table(connection, "stretch_stay", values)
    cut = query(connection, "age_spell", values)
    stayed = connection.table("stretch_stay").select("ending", "stretch_id").distinct().pl()
    pieces = []
    for ending in endings:
        whole = every[ending].has_spell.copy()
        whole[numbers_of(stayed.filter(pl.col("ending") == ending)["stretch_id"]) - 1] = False
        rows = whole_pieces(lives, every[ending], np.flatnonzero(whole), ending)
        pieces.append(_in_order(rows, cut.filter(pl.col("ending") == ending)))
    why = why_none(lives, every[0])
    why[_left_nothing(stayed, pieces[0])] = NO_TIME
    return Ages(every[0], why, tuple(pieces))


def _left_nothing(stayed: pl.DataFrame, pieces: pl.DataFrame) -> Numbers:
    """Return the stretches of which long stays left nothing."""
    of_rule = stayed.filter(pl.col("ending") == 0)
    return numbers_of(of_rule.join(pieces, on="stretch_id", how="anti")["stretch_id"]) - 1


def _in_order(whole: pl.DataFrame, cut: pl.DataFrame) -> pl.DataFrame:
    if cut.is_empty():
        return whole
    rows = pl.concat([whole, cut.select(pl.col(name).cast(kind) for name, kind in whole.schema.items())])
    # one rising number, and mostly in order already
    key = numbers_of(rows["stretch_id"]) * SPAN + numbers_of(rows["entry"])
    return rows[np.argsort(key, kind="stable")]


def _by_stretch(rows: pl.DataFrame, size: int) -> Days:
    good_on = np.full(size, NO_DAY, dtype=np.int32)
    good_on[numbers_of(rows["stretch_id"]) - 1] = days_of(rows["checked_on"])
    return good_on
