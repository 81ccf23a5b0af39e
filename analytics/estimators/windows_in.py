"""Match recurring events to the stretches in which their systems were watched."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np
import polars as pl

from analytics.errors import SpellError
from analytics.estimators.spells_in import group_codes, refuse_rows, times

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

Truncation = Literal["time", "failure"]

TRUNCATIONS = ("time", "failure")


@dataclass(frozen=True, slots=True)
class Watched:
    """Events inside the windows of their systems.

    Attributes
    ----------
    start, end
        Shape ``(w,)``, days or km of each window ``(start, end]``, sorted by system and time.
    time
        Shape ``(n,)``, of each event.
    window
        Shape ``(n,)``, row of the window an event lies in.
    systems
        Number of systems that have a window.
    closes
        Shape ``(n,)``, whether an event ended its window: one per window if truncated by failure, else none.
    """

    start: Floats
    end: Floats
    time: Floats
    window: Ints
    systems: int
    closes: NDArray[np.bool_]

    @property
    def free(self) -> tuple[Floats, Floats, Floats]:
        """Return time of, and start and end of the window around, each event that could have fallen elsewhere."""
        window = self.window[~self.closes]
        return self.time[~self.closes], self.start[window], self.end[window]


def windows_in(events: pl.DataFrame, windows: pl.DataFrame, truncation: Truncation, where: str) -> Watched:
    """Check windows and events, and find the window of each event.

    Parameters
    ----------
    events
        Columns `system`, `time`.
    windows
        Columns `system`, `start`, `end`; several rows of one system must not overlap.
    truncation
        ``time`` if watching stopped by the calendar, ``failure`` if each window ends with its last event.
    where
        Name of the calling estimator, for the message.

    Raises
    ------
    SpellError
        If a value is missing, a window is empty or overlaps another one of its system, an event lies in no
        window, or a window said to end with a failure does not.
    ValueError
        If `truncation` is not one of those above.
    """
    if truncation not in TRUNCATIONS:
        raise ValueError(f"truncation must be one of {', '.join(TRUNCATIONS)}, got {truncation!r}")
    start, end = (values.astype(np.float64) for values in times(windows, "start", "end", where=where))
    refuse_rows(end <= start, "end is not after start", where, "give every window end > start", start=start, end=end)
    (time,) = (values.astype(np.float64) for values in times(events, "time", where=where))
    of_window, of_event = _systems(events, windows, where)
    order = np.lexsort((start, of_window))
    start, end, of_window = start[order], end[order], of_window[order]
    same = of_window[1:] == of_window[:-1]
    refuse_rows(
        np.concatenate(([False], same & (start[1:] < end[:-1])))[: start.size],
        "a window overlaps the one before it of the same system (rows sorted by system and start)",
        where,
        "join windows that overlap",
        start=start,
        end=end,
    )
    window = _window(of_window, end, of_event, time)
    found = np.minimum(window, max(start.size - 1, 0))
    inside = (
        (window < start.size) & (of_window[found] == of_event) & (start[found] < time) if start.size else window < 0
    )
    refuse_rows(
        ~inside, "an event lies in no window of its system", where, "widen the window or leave it out", time=time
    )
    closes = _closing(window, time, end, where) if truncation == "failure" else np.zeros(time.size, dtype=bool)
    return Watched(start, end, time, window, int(np.unique(of_window).size), closes)


def _systems(events: pl.DataFrame, windows: pl.DataFrame, where: str) -> tuple[Ints, Ints]:
    for name, frame in (("events", events), ("windows", windows)):
        if "system" not in frame.columns:
            raise SpellError(f"no column system in {name}", where=where, next_step="name the system of every row")
    both = [windows.select("system"), events.select("system")]
    codes = group_codes(pl.concat(both, how="vertical_relaxed"), ("system",))[1]
    return codes[: windows.height], codes[windows.height :]


def _window(of_window: Ints, end: Floats, of_event: Ints, time: Floats) -> Ints:
    """Return for each event the first window of its system, or of a later one, that ends at or after it."""
    moments, rank = np.unique(np.concatenate([end, time]), return_inverse=True)
    of = np.concatenate([of_window, of_event])
    keys = of * (moments.size + 1) + rank
    return np.searchsorted(keys[: end.size], keys[end.size :], side="left").astype(np.int64)


def _closing(window: Ints, time: Floats, end: Floats, where: str) -> NDArray[np.bool_]:
    closes = np.zeros(time.size, dtype=bool)
    at_end = np.flatnonzero(time == end[window])
    ended, first = np.unique(window[at_end], return_index=True)
    closes[at_end[first]] = True
    open_end = ~np.isin(np.arange(end.size), ended)
    refuse_rows(open_end, "a window does not end with an event", where, "use truncation='time'", end=end)
    return closes
