"""What the spells of a group say about its life law: the grid posterior, units of known and unknown age together."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.elicited import opinions_in, with_opinions
from analytics.estimators.law_quantiles import law_table
from analytics.estimators.law_summary import SUMMARY, law_summary, survival_summary, words
from analytics.estimators.life_grid import life_grid
from analytics.estimators.life_laws import LifeLaws, own_log_weight
from analytics.estimators.life_spells import life_spells
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.spells_in import names
from analytics.parameters import Parameters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]

RETURNED = ("units", "failures", *SUMMARY, "basis", "status")
MOST_OWED = 0.5
"""An opinion that brings more of what is known than this is said to."""

RETURNED_SURVIVAL = ("time", "survival", "lower", "upper", "basis")


def life_posterior(
    spells: pl.DataFrame,
    by: str | Sequence[str] = (),
    *,
    prior: pl.DataFrame | None = None,
    parameters: Parameters | None = None,
) -> pl.DataFrame:
    r"""Say how long the units of each group last, honestly from one failure on.

    Parameters
    ----------
    spells
        A row per unit watched over ``(entry, exit]`` on one scale (days or km); `event` 1 if it failed at `exit`.
        Optional: `exit_lower`, a silent fault lies in ``(exit_lower, exit]``; `age_known`, false where the clock
        started when the unit was first seen; `vehicle_age`, of the car at entry, for units of unknown age (null =
        not known: the equilibrium law).
    by
        Grouping columns; every group has its own law.
    prior
        What an expert says, a row for each group there is an opinion of: the columns of `by`; `first_age` and
        `second_age` (days or km), `first_good` and `second_good`, the shares of newly fitted units still good then;
        `cars`, how many cars the opinion is worth (above 5 counts as 5). None = no opinion.
    parameters
        Rule 34: prior of the log shape, `confidence` of the limits, `upper_open_ratio`. None = the defaults.

    Returns
    -------
    DataFrame
        A row per group: the columns of `by`, `units`, `failures`; `shape`, `life` (63.2 % failed), `life10`, `life50`
        (days or km), each with `_lower` and `_upper` (5 % and 95 % points; the estimate is the median); `basis`
        (``own`` or ``bound only``), `status` (``ok``, ``upper open``, ``bound only``, ``too few`` without any unit).
        Without a failure there are lower limits only. With `prior` also `prior_share`, how much of what is known of
        log life50 the opinion brings (0 to 1, null without one); `basis` ``own and expert`` tells that an opinion is
        in the numbers, also where no unit has failed, and `status` ``mostly opinion`` that it brings more than half.

    Raises
    ------
    SpellError
        If rows break the contract of spells; the message names them.

    Notes
    -----
    Likelihood on 49 log shapes by 121 log median lives, laid where it matters; prior normal in log shape, flat in log
    life. Units of known age: late entry, censoring and silent faults as in `fit_weibull`. Units of unknown age: the
    renewal likelihood, the law of the unit found in a position renewed since the car was built. Without a failure,
    per shape the exact bound, mixed over the prior. An opinion worth m cars counts as m units seen at its two ages
    only; one in twenty is taken to be far too hopeful, so that failures can contradict it.

    Coverage of the 90 % limits in simulated fleets: 0.86 to 1.00 (ages known), 0.82 to 1.00 (70 % unknown).

    Examples
    --------
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [3, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> life_posterior(spells).select("failures", pl.col("life50").round(1), "basis", "status").row(0)
    (3, 4.8, 'own', 'ok')
    """
    parameters = parameters or Parameters()
    where = "life_posterior(spells)"
    laws, share = own_laws(spells, by, parameters, prior, returned=(*RETURNED, "prior_share"), where=where)
    columns, open_upper = law_summary(laws, law_table(laws), parameters)
    status = np.where(laws.bound_only, "bound only", np.where(open_upper, "upper open", "ok"))
    status = np.where(laws.units > 0, np.where(share > MOST_OWED, "mostly opinion", status), "too few")
    owed = {} if prior is None else {"prior_share": shown(share)}
    counts = {"units": pl.Series(laws.units), "failures": pl.Series(laws.failures)}
    said = {"basis": words(_basis(laws, share)), "status": words(status)}
    return result_frame(laws.levels, None, {**counts, **columns, **owed, **said})


def survival_posterior(
    spells: pl.DataFrame,
    ages: Sequence[float],
    by: str | Sequence[str] = (),
    *,
    prior: pl.DataFrame | None = None,
    parameters: Parameters | None = None,
) -> pl.DataFrame:
    """Say which share of the units of each group still works at given ages.

    Parameters
    ----------
    spells, by, prior, parameters
        As in `life_posterior`.
    ages
        Ages of the unit, days or km, above 0.

    Returns
    -------
    DataFrame
        A row per group and age: the columns of `by`, `time`, `survival`, `lower`, `upper`, `basis`. Without a failure
        there is `lower` only.

    Raises
    ------
    SpellError
        If rows break the contract of spells.
    ValueError
        If an age is not above 0.

    Examples
    --------
    >>> spells = pl.DataFrame({"entry": [0, 0, 2, 1], "exit": [3, 5, 6, 4], "event": [1, 1, 1, 0]})
    >>> survival_posterior(spells, [4]).select(pl.col("survival").round(1)).row(0)
    (0.6,)
    """
    parameters = parameters or Parameters()
    asked = np.asarray(ages, dtype=np.float64)
    if not (asked > 0).all():
        raise ValueError(f"ages must be above 0, got {ages!r}")
    where = "survival_posterior(spells, ages)"
    laws, share = own_laws(spells, by, parameters, prior, returned=RETURNED_SURVIVAL, where=where)
    row, time = np.repeat(np.arange(laws.units.size), asked.size), np.tile(asked, laws.units.size)
    found = survival_summary(laws, law_table(laws), row, time, parameters)
    basis = _basis(laws, share)[row]
    return result_frame(laws.levels, row, {"time": pl.Series(time), **found, "basis": words(basis)})


def own_laws(
    frame: pl.DataFrame,
    by: str | Sequence[str],
    parameters: Parameters,
    prior: pl.DataFrame | None,
    *,
    returned: Sequence[str],
    where: str,
) -> tuple[LifeLaws, Floats]:
    """Return each group's posterior from its own units, the exact bound where none has failed, and opinions' shares.

    Where an expert's opinion stands for the default prior the law is no bound, and the share is a number, not NaN.
    """
    rows = life_spells(frame, by, returned=returned, where=where)
    said = opinions_in(prior, names(by), rows, where)
    grid = life_grid(rows)
    laws = laws_of(rows, grid, parameters)
    weight, share = with_opinions(laws.log_weight, grid, rows, said, parameters)
    return replace(laws, log_weight=weight, bound_only=laws.bound_only & np.isnan(share)), share


def laws_of(rows: LifeSpells, grid: LifeGrid, parameters: Parameters) -> LifeLaws:
    """Return the posterior of checked spells whose likelihood is on a grid."""
    failures = rows.count(rows.failed)
    weight = own_log_weight(grid, failures, parameters)
    return LifeLaws(rows.levels, rows.count(), failures, failures == 0, rows.yardstick, grid.log_life50, weight)


def _basis(laws: LifeLaws, share: Floats) -> NDArray[np.str_]:
    return np.where(np.isnan(share), np.where(laws.bound_only, "bound only", "own"), "own and expert")
