"""Does a Weibull law describe complete lives? Anderson-Darling with the law fitted to the same lives."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from analytics.estimators.known_units import log_fails_within, per_group
from analytics.estimators.law_summary import words
from analytics.estimators.life_spells import life_spells
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.running import place_in_group
from analytics.estimators.weibull_limits import find_peak

if TYPE_CHECKING:
    from collections.abc import Sequence

    import polars as pl
    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells
    from analytics.estimators.weibull_limits import Peak

    Floats = NDArray[np.float64]

RETURNED = ("units", "statistic", "adjusted_statistic", "p_value", "status")


def goodness_of_fit(spells: pl.DataFrame, by: str | Sequence[str] = ()) -> pl.DataFrame:
    r"""Test whether the lives of each group look like a Weibull law.

    Parameters
    ----------
    spells
        As in `fit_weibull`. The test is for complete lives: each watched from 0 to its failure.
    by
        Grouping columns.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `units`, `statistic` (A squared), `adjusted_statistic`, `p_value`
        (small: not a Weibull law), `status`: ``ok``, ``not complete`` (a unit still works, was watched from later on
        or failed silently), ``too few`` (fewer than two units), ``no finite estimate``.

    Raises
    ------
    SpellError
        If rows break the contract of spells.

    Notes
    -----
    :math:`A^2 = -n - \frac1n \sum (2i - 1) (\log F(t_i) + \log S(t_{n + 1 - i}))`, adjusted by
    :math:`1 + 0.2 / \sqrt n` because the law was fitted; :math:`p = 1 / (1 + e^{-0.10 + 1.24 \log A + 4.48 A})` with
    A the adjusted statistic.

    References
    ----------
    .. [1] Stephens (1977), Biometrika 64(3), 583-588.
    .. [2] MIL-HDBK-17-1F (2002), volume 1, section 8.3.4.2.

    Examples
    --------
    >>> import polars as pl
    >>> spells = pl.DataFrame({"entry": [0] * 5, "exit": [3, 5, 6, 7, 9], "event": [1] * 5})
    >>> goodness_of_fit(spells).select("units", pl.col("statistic").round(2), "status").row(0)
    (5, 0.17, 'ok')
    """
    rows = life_spells(spells, by, returned=RETURNED, where="goodness_of_fit(spells)")
    rows = rows.where(rows.age_known)
    units = rows.count()
    complete = rows.count(rows.exact & (rows.entry == 0)) == units
    peak = find_peak(rows)
    good = complete & (units >= 2) & peak.inside
    statistic = _anderson_darling(rows, peak)
    adjusted = statistic * (1 + 0.2 / np.sqrt(np.maximum(units, 1)))
    positive = np.where(good & (adjusted > 0), adjusted, 1.0)
    p_value = 1 / (1 + np.exp(np.minimum(-0.10 + 1.24 * np.log(positive) + 4.48 * positive, 700.0)))
    status = np.where(units < 2, "too few", np.where(complete, "no finite estimate", "not complete"))
    return result_frame(
        rows.levels,
        None,
        {
            "units": units,
            "statistic": shown(statistic, good),
            "adjusted_statistic": shown(adjusted, good),
            "p_value": shown(p_value, good),
            "status": words(np.where(good, "ok", status)),
        },
    )


def _anderson_darling(rows: LifeSpells, peak: Peak) -> Floats:
    """Return A squared per group; of use only where all lives are complete."""
    order = np.lexsort((rows.exit, rows.group))
    group, units = rows.group[order], rows.count()
    log_hazard = np.exp(peak.log_shape[group]) * np.log(rows.exit[order]) + peak.log_rate[group]
    odd = 2 * place_in_group(group) + 1
    backwards = 2 * units[group] - odd
    log_survival = -np.exp(np.minimum(log_hazard, 700.0))
    terms = np.zeros(group.size)
    terms[order] = odd * log_fails_within(log_hazard) + backwards * log_survival
    with np.errstate(invalid="ignore"):
        return -units - per_group(rows, terms) / np.maximum(units, 1)
