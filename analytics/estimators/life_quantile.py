"""Life by which a stated share of units has failed, from the fitted Weibull law."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.given_shape import fit_given_shape
from analytics.estimators.life_spells import life_spells
from analytics.estimators.limits import check_confidence
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.weibull import status_of
from analytics.estimators.weibull_limits import find_peak, life_limits, shape_limits

if TYPE_CHECKING:
    from collections.abc import Sequence

    from analytics.estimators.life_spells import LifeSpells

RETURNED = ("p", "life", "lower", "upper", "status")


def life_quantile(
    spells: pl.DataFrame,
    p: float,
    by: str | Sequence[str] = (),
    confidence: float = 0.95,
    shape: float | None = None,
) -> pl.DataFrame:
    r"""Say by which age or distance a share `p` of the units of known age has failed, with likelihood-ratio limits.

    Parameters
    ----------
    spells, by, confidence, shape
        As in `fit_weibull`.
    p
        Share failed, strictly between 0 and 1: 0.1 for the life that nine of ten reach.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `p`, `life`, `lower`, `upper` (days or km), `status` as in `fit_weibull`.
        With a given shape and no failure only `lower` is there.

    Raises
    ------
    SpellError
        If rows break the contract of spells.
    ValueError
        If `p` or `confidence` is not strictly between 0 and 1.

    Notes
    -----
    :math:`t_p = \mathrm{life} \, (-\log(1 - p))^{1 / \mathrm{shape}}`. The limits are the values of :math:`t_p` that
    the likelihood ratio does not reject, the shape being free; with a given shape those of the life.

    References
    ----------
    .. [1] Meeker and Escobar (1998), Statistical Methods for Reliability Data, section 8.3.

    Examples
    --------
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [3, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> life_quantile(spells, 0.5).select(pl.col("life").round(2), "status").row(0)
    (4.89, 'ok')
    """
    check_confidence(confidence)
    if not 0 < p < 1:
        raise ValueError(f"p must be strictly between 0 and 1, got {p!r}")
    rows = life_spells(spells, by, returned=RETURNED, where="life_quantile(spells, p)")
    rows = rows.where(rows.age_known)
    log_hazard = math.log(-math.log1p(-p))
    columns = _free(rows, log_hazard, confidence) if shape is None else _given(rows, log_hazard, shape, confidence)
    return result_frame(rows.levels, None, {"p": pl.Series(np.full(rows.groups, float(p))), **columns})


def _free(rows: LifeSpells, log_hazard: float, confidence: float) -> dict[str, pl.Series]:
    peak = find_peak(rows)
    enough = rows.count(rows.failed) >= 2
    good = enough & peak.inside
    limits = life_limits(peak, shape_limits(peak, confidence), log_hazard, confidence)
    estimate = (log_hazard - peak.log_rate) / np.exp(peak.log_shape)
    shares = {"life": estimate, "lower": limits[0], "upper": limits[1]}
    columns = {name: shown(rows.times(share), good) for name, share in shares.items()}
    return {**columns, "status": status_of(enough, peak.inside)}


def _given(rows: LifeSpells, log_hazard: float, shape: float, confidence: float) -> dict[str, pl.Series]:
    fit = fit_given_shape(rows, shape, confidence)
    factor = math.exp(log_hazard / shape)
    named = {"life": "life", "lower": "life_lower", "upper": "life_upper"}
    return {**{name: fit[column] * factor for name, column in named.items()}, "status": fit["status"]}
