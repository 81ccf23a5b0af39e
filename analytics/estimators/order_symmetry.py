"""Which of two kinds of event comes first: counts by order, what their calendars alone would give, and the test."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from scipy import special

from analytics.estimators.counts_in import columns, refuse_counts
from analytics.estimators.result_frame import shown
from analytics.estimators.spells_in import refuse_rows

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from analytics.estimators.counts_in import Numbers

    Ints = NDArray[np.int64]
    Floats = NDArray[np.float64]

DAYS_AT_ONCE = 1024
"""Days of the calendar that are multiplied at a time: all kinds of event on so many days stay in memory."""


def order_symmetry(first_then: Numbers, then_first: Numbers, null_share: Numbers = 0.5) -> pl.DataFrame:
    r"""Test whether one event precedes another more often than it follows it.

    Parameters
    ----------
    first_then
        Cars on which the first came before the second, one number or ``(n,)``.
    then_first
        Cars on which it came after it.
    null_share
        Share of `first_then` that is expected if neither brings the other about, strictly between 0 and 1.

    Returns
    -------
    DataFrame
        A row per element: `share` of `first_then` in both (null without cars), `p_value`, one-sided: the chance of so
        many or more in this order (1 without cars).

    Raises
    ------
    SpellError
        If a count is negative or not whole, or an expected share not between 0 and 1; the message names the rows.

    Notes
    -----
    With neither bringing the other about, :math:`P(X \ge x)`, X binomial. What makes one car worse than another, or
    all parts age together, brings both orders alike.

    References
    ----------
    .. [1] Hallas (1996), Epidemiology 7(5), 478-484: the symmetry of sequences.

    Examples
    --------
    >>> order_symmetry([11, 3], [2, 3])["p_value"].round(4).to_list()
    [0.0112, 0.6562]
    """
    where = "order_symmetry(first_then, then_first, null_share)"
    ahead, behind, expected = columns(first_then, then_first, null_share)
    refuse_counts(where, first_then=ahead, then_first=behind)
    outside = ~((expected > 0) & (expected < 1))
    refuse_rows(outside, "null_share is not between 0 and 1", where, "give a share above 0 and below 1", p=expected)
    cars = ahead + behind
    # the upper tail of a binomial is an incomplete beta function
    tail = np.where(ahead > 0, special.betainc(np.maximum(ahead, 1.0), behind + 1, expected), 1.0)
    share = ahead / np.maximum(cars, 1.0)
    return pl.DataFrame({"share": shown(share, cars > 0), "p_value": shown(tail)})


def null_share(after: Floats, before: Floats, strength: float) -> Floats:
    """Return the share of one order that two calendars alone give: the null sequence ratio as a share.

    Parameters
    ----------
    after, before
        Pairs of events of different cars within the window, the second after the first and before it.
    strength
        Pairs in either order that are added, so that few pairs do not look like a season.

    References
    ----------
    .. [1] Hallas (1996), Epidemiology 7(5), 478-484; Tsiropoulos, Andersen and Hallas (2009),
       Pharmacoepidemiology and Drug Safety 18(6), 483-491: the ratio within a window.

    Examples
    --------
    >>> null_share(np.array([0.0, 40.0]), np.array([0.0, 10.0]), 10.0).round(3).tolist()
    [0.5, 0.714]
    """
    return (after + strength) / (after + before + 2 * strength)


def followers(kind: Ints, day: Ints, kinds: int, window: int) -> Ints:
    """Count, for every two kinds of event, the pairs of which the second comes within a window after the first.

    Parameters
    ----------
    kind, day
        One element per event, shape ``(n,)``: its kind, 0 to `kinds` - 1, and its day.
    kinds
        How many kinds there are.
    window
        Days after the first within which the second comes; on the same day it does not.

    Returns
    -------
    ndarray
        Shape ``(kinds, kinds)``: row = the first, column = the second.

    Examples
    --------
    >>> followers(np.array([0, 1, 0]), np.array([1, 5, 9]), kinds=2, window=5).tolist()
    [[0, 1], [1, 0]]
    """
    order = np.argsort(day, kind="stable")
    kind, day = kind[order], day[order]
    pairs = np.zeros((kinds, kinds))
    low = int(day[0]) if day.size else 0
    while day.size and low <= day[-1]:
        begin, end = np.searchsorted(day, (low, low + DAYS_AT_ONCE))
        last = int(np.searchsorted(day, low + DAYS_AT_ONCE + window))
        first = _per_day(kind[begin:end], day[begin:end] - low, kinds, DAYS_AT_ONCE)
        upto = np.cumsum(_per_day(kind[begin:last], day[begin:last] - low, kinds, DAYS_AT_ONCE + window), axis=1)
        pairs += first @ (upto[:, window:] - upto[:, :DAYS_AT_ONCE]).T
        # years without any event are stepped over
        low = int(day[end]) if end < day.size else low + DAYS_AT_ONCE
    return pairs.astype(np.int64)


def _per_day(kind: Ints, day: Ints, kinds: int, days: int) -> Floats:
    counts = np.bincount(kind * days + day, minlength=kinds * days)
    return counts.reshape(kinds, days).astype(np.float64)
