"""Whether failures of watched systems come faster or slower as time goes on."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import special

from analytics.estimators.result_frame import shown
from analytics.estimators.windows_in import windows_in

if TYPE_CHECKING:
    from analytics.estimators.windows_in import Truncation


def laplace_trend(events: pl.DataFrame, windows: pl.DataFrame, truncation: Truncation = "time") -> pl.DataFrame:
    r"""Return whether events crowd early or late in the windows of their systems.

    Parameters
    ----------
    events
        Columns `system`, `time`: one row per event, days or km.
    windows
        Columns `system`, `start`, `end`: each system was watched in ``(start, end]``; several stretches are allowed.
    truncation
        ``time``, or ``failure`` if each window ends with its last event (which then says nothing about a trend).

    Returns
    -------
    DataFrame
        One row: `systems`, `events` (used), `statistic` (z: positive = events crowd late, it gets worse), `p_value`
        (two-sided), `status`: ``ok``, or ``too few`` without events; the two are null then.

    Raises
    ------
    SpellError
        If windows or events break their contract; the message names the rows.
    ValueError
        If `truncation` is not one of those above.

    Notes
    -----
    Given how many events a window has, they lie evenly in it if there is no trend:
    :math:`z = \sum (t_i - m_i) / \sqrt{\sum w_i^2 / 12}` over all events, m the middle and w the length of an
    event's window. Each system is held against its own window only, so unlike systems do not make a trend.

    References
    ----------
    .. [1] Cox and Lewis (1966), The Statistical Analysis of Series of Events, section 3.3.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, section 8.2.3.4.

    Examples
    --------
    >>> windows = pl.DataFrame({"system": [1], "start": [0], "end": [100]})
    >>> events = pl.DataFrame({"system": [1, 1, 1], "time": [50, 80, 95]})
    >>> laplace_trend(events, windows)["statistic"].round(4).to_list()
    [1.5]
    """
    watched = windows_in(events, windows, truncation, "laplace_trend(events, windows)")
    time, start, end = watched.free
    spread = np.sqrt(np.sum((end - start) ** 2) / 12)
    z = np.sum(time - (start + end) / 2) / spread if time.size else np.nan
    return pl.DataFrame(
        {
            "systems": pl.Series([watched.systems], dtype=pl.Int64),
            "events": pl.Series([time.size], dtype=pl.Int64),
            "statistic": shown(np.array([z])),
            "p_value": shown(np.array([2 * special.ndtr(-np.abs(z))])),
            "status": ["ok" if time.size else "too few"],
        }
    )


def military_handbook_trend(
    events: pl.DataFrame, windows: pl.DataFrame, truncation: Truncation = "time"
) -> pl.DataFrame:
    r"""Return whether events follow an even rate rather than a power law of time.

    Parameters
    ----------
    events
        Columns `system`, `time`: one row per event, days or km.
    windows
        Columns `system`, `start`, `end`: each system was watched in ``(start, end]``.
    truncation
        ``time``, or ``failure`` if each window ends with its last event.

    Returns
    -------
    DataFrame
        One row: `systems`, `events` (used), `statistic` (chi-square), `df`, `p_value` (two-sided), `p_improving` (upper
        tail: a large statistic means events get rarer), `p_worsening` (lower tail), `status`: ``ok``, or
        ``too few`` without events; the numbers are null then.

    Raises
    ------
    SpellError
        If windows or events break their contract; the message names the rows.
    ValueError
        If `truncation` is not one of those above.

    Notes
    -----
    :math:`\chi^2 = 2 \sum \ln(w_i / u_i)` on 2n degrees of freedom, u the time of an event since its window
    began and w the window's length. The last event of a failure-truncated window does not count.

    References
    ----------
    .. [1] MIL-HDBK-189C (2011), Reliability Growth Management, test for trend.
    .. [2] NIST/SEMATECH e-Handbook of Statistical Methods, section 8.2.3.4.

    Examples
    --------
    >>> windows = pl.DataFrame({"system": [1], "start": [0], "end": [100]})
    >>> military_handbook_trend(pl.DataFrame({"system": [1, 1], "time": [50, 80]}), windows)["df"].to_list()
    [4]
    """
    watched = windows_in(events, windows, truncation, "military_handbook_trend(events, windows)")
    time, start, end = watched.free
    df = 2 * time.size
    chi2 = 2 * np.sum(np.log((end - start) / (time - start))) if df else np.nan
    upper, lower = special.chdtrc(df, chi2), special.chdtr(df, chi2)
    return pl.DataFrame(
        {
            "systems": pl.Series([watched.systems], dtype=pl.Int64),
            "events": pl.Series([time.size], dtype=pl.Int64),
            "statistic": shown(np.array([chi2])),
            "df": pl.Series([df or None], dtype=pl.Int64),
            "p_value": shown(np.array([np.minimum(2 * np.minimum(upper, lower), 1)])),
            "p_improving": shown(np.array([upper])),
            "p_worsening": shown(np.array([lower])),
            "status": ["ok" if df else "too few"],
        }
    )
