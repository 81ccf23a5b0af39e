"""Weibull life law by maximum likelihood, with delayed entry, censoring and silent faults."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.given_shape import fit_given_shape
from analytics.estimators.life_spells import life_spells
from analytics.estimators.limits import check_confidence
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.weibull_limits import find_peak, life_limits, shape_limits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]

RETURNED = (
    "units",
    "failures",
    "shape",
    "shape_lower",
    "shape_upper",
    "life",
    "life_lower",
    "life_upper",
    "log_likelihood",
    "status",
)


def fit_weibull(
    spells: pl.DataFrame, by: str | Sequence[str] = (), confidence: float = 0.95, shape: float | None = None
) -> pl.DataFrame:
    r"""Fit a two-parameter Weibull law to each group of units of known age.

    Parameters
    ----------
    spells
        A row per unit watched over ``(entry, exit]`` on one scale (days or km) of its own; `event` 1 if it failed at
        `exit`; optional `exit_lower`: a silent fault lies in ``(exit_lower, exit]``. Rows whose optional `age_known`
        is false are left out: see `fit_weibull_residual`.
    by
        Grouping columns; every group has its own law.
    confidence
        Two-sided confidence of the limits, strictly between 0 and 1.
    shape
        A shape that is known, or asked about; None to estimate it.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `units`, `failures`, `shape` and `life` (by which 63.2 % have failed),
        each with `_lower` and `_upper`, `log_likelihood`, `status`: ``ok``; ``too few`` (fewer than two failures);
        ``no finite estimate`` (the likelihood rises to the edge of the shapes, 0.2 to 15); with a given shape and
        no failure ``bound only``. A limit that lies beyond that bracket is null.

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.
    ValueError
        If `confidence` is not strictly between 0 and 1, or `shape` not above 0.

    Notes
    -----
    :math:`\ell = \sum d \log h(t) - \sum (H(t) - H(\mathrm{entry}))` with :math:`H(t) = (t / \mathrm{life})^
    \mathrm{shape}`; a silent fault gives
    :math:`H(\mathrm{entry}) - H(l) + \log(1 - e^{-(H(r) - H(l))})`. Limits are those of the likelihood ratio; with a
    given shape and no silent fault :math:`2 W \mathrm{life}^{-\mathrm{shape}}` is compared with chi-square, 2 r + 2
    degrees of freedom for the lower and 2 r for the upper limit, W the sum of t^shape - entry^shape.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, chapters 8 and 11.

    Examples
    --------
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [3, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> fit_weibull(spells).select("failures", pl.col("life").round(2), "status").row(0)
    (3, 5.26, 'ok')
    """
    check_confidence(confidence)
    rows = life_spells(spells, by, returned=RETURNED, where="fit_weibull(spells)")
    rows = rows.where(rows.age_known)
    fit = _fit(rows, confidence) if shape is None else fit_given_shape(rows, shape, confidence)
    return result_frame(rows.levels, None, {"units": rows.count(), "failures": rows.count(rows.failed), **fit})


def _fit(rows: LifeSpells, confidence: float) -> dict[str, pl.Series]:
    peak = find_peak(rows)
    enough = rows.count(rows.failed) >= 2
    good = enough & peak.inside
    shapes = shape_limits(peak, confidence)
    lives = life_limits(peak, shapes, 0.0, confidence)
    to_own_unit = rows.count(rows.exact) * np.log(rows.yardstick)
    return {
        "shape": shown(np.exp(peak.log_shape), good),
        "shape_lower": shown(np.exp(shapes[0]), good),
        "shape_upper": shown(np.exp(shapes[1]), good),
        "life": shown(rows.times(-peak.log_rate / np.exp(peak.log_shape)), good),
        "life_lower": shown(rows.times(lives[0]), good),
        "life_upper": shown(rows.times(lives[1]), good),
        "log_likelihood": shown(peak.log_likelihood - to_own_unit, good),
        "status": status_of(enough, peak.inside),
    }


def status_of(enough: NDArray[np.bool_], inside: NDArray[np.bool_]) -> pl.Series:
    """Return ``too few``, ``no finite estimate`` or ``ok`` per group."""
    words = np.where(~enough, "too few", np.where(inside, "ok", "no finite estimate"))
    return pl.Series(words.tolist(), dtype=pl.String)
