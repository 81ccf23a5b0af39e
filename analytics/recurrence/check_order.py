"""Where to look first: for a complaint on a series, the order of checks that finds the cause soonest."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import polars as pl
from numpy.typing import NDArray

from analytics.estimators.dirichlet import DirichletLaw, dirichlet_law
from analytics.estimators.sequencing import best_first
from analytics.recurrence.checks import Checks, Grid
from analytics.recurrence.complaints import CELL, candidates, sensitivities, with_facts

if TYPE_CHECKING:
    from analytics.parameters import Parameters

Floats = NDArray[np.float64]
Whole = NDArray[np.intp]

AT_ONCE = 2_000_000
"""Drawn chances that are held at once."""

LEAST = 1e-12

FEW, FAMILY, OWN = "few", "family", "own"


def check_orders(
    cause: pl.DataFrame, fact: pl.DataFrame, locations: pl.DataFrame, critical: list[str], parameters: Parameters
) -> pl.DataFrame:
    """Return the order of checks for every complaint on every series on which a cause of it was found.

    Parameters
    ----------
    cause
        Rows of ``complaint_cause``, those published.
    fact
        Rows of ``check_fact``.
    locations
        Feed table ``locations``; may be empty.
    critical
        Names of the safety-critical components.
    parameters
        Those named ``check_...``, and `confidence`.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``check_order``.

    Notes
    -----
    Chances are the posterior of Dirichlet's law: own closed jobs, the other series' jobs with the same complaint as a
    prior that weighs at most five, and a cause nobody met yet that weighs one. Jobs at which nothing was found are left
    out of them and counted. Safety-critical components come first, by name, outside the ranking; the others by chance
    times sensitivity over minutes, a place being opened once for all checks behind it. Each step also says in how many
    of 100 plausible worlds it would be the best of all checks still to be made.
    """
    rows = candidates(cause, fact)
    if rows.is_empty():
        return pl.DataFrame()
    told = with_facts(rows, cause, fact, locations, parameters).join(
        sensitivities(cause, parameters), on="component", how="left", maintain_order="left"
    )
    told = told.with_columns(
        pl.col("sensitivity").fill_null(parameters.check_sensitivity), safety_first=pl.col("component").is_in(critical)
    )
    basis = (
        pl.when(pl.col("own_jobs") >= parameters.check_own_jobs)
        .then(pl.lit(OWN))
        .when(pl.col("family_jobs") > 0)
        .then(pl.lit(FAMILY))
        .otherwise(pl.lit(FEW))
    )
    steps = _steps(told, Grid.over(told, CELL), parameters)
    return told.with_columns(basis=basis, **steps).drop("own", "family", "opening").sort(*CELL, "step")


def _steps(told: pl.DataFrame, grid: Grid, parameters: Parameters) -> dict[str, pl.Series | pl.Expr]:
    """Return the columns that tell of the order, in the frame's own order."""
    checks = Checks.of(grid, told)
    borrowed = parameters.check_family_jobs, parameters.check_unseen_jobs
    own = grid.of(told["own"])
    law = dirichlet_law(own, grid.of(told["family"]), *borrowed)
    sensitivity = grid.of(told["sensitivity"])
    order = checks.best(law.mean * sensitivity)
    cost = checks.steps(order)
    found = np.take_along_axis(law.mean * sensitivity, order, 1)
    before = np.cumsum(found, axis=1) - found
    keys = [("check order", *key) for key in told.select(CELL).unique(maintain_order=True).rows()]
    best = _times_best(checks, law, sensitivity, order, keys, parameters.check_draws)
    step = np.argsort(order, axis=1)

    def back(values: NDArray[np.generic]) -> pl.Series:
        return grid.back(np.take_along_axis(values, step, 1))

    known, free = pl.col("minutes").is_not_null(), ~pl.col("safety_first")
    ranked = np.take_along_axis(checks.free, order, 1)
    saved = _saved(checks, order, law.mean * sensitivity)
    # of one check left nothing is the best
    choice = ranked & (np.cumsum(ranked, axis=1) < ranked.sum(axis=1, keepdims=True))
    lower, upper = law.limits(parameters.confidence, own)
    return {
        "step": grid.back(step + 1),
        "probability": grid.back(law.mean),
        "probability_lower": grid.back(lower),
        "probability_upper": grid.back(upper),
        "access_minutes": pl.when(known).then(back(cost) - grid.back(checks.minutes)),
        "minutes_after": pl.when(known).then(back(np.cumsum(cost, axis=1))),
        "expected_minutes_so_far": pl.when(known).then(back(np.cumsum(cost * (1 - before), axis=1))),
        "found_by_now": back(before + found),
        "minutes_saved": pl.when(known & free).then(back(saved)),
        "times_best_of_100": pl.when(back(choice)).then(back(best)),
        "tied": back(choice & (best < parameters.check_sure_worlds)),
    }


def _saved(checks: Checks, order: Whole, gain: Floats) -> Floats:
    """Return the minutes that each step saves by being made now and not last, on average over jobs that come so far.

    Notes
    -----
    This is the value of the check as a test, one step ahead: expected minutes without it at its turn, less those with
    it. It cannot be left out for good, for the cause may be there. A cover that it opened is then opened by the next
    check behind it.
    """

    def expected(way: Whole) -> tuple[Floats, Floats]:
        found = np.take_along_axis(gain, way, 1)
        before = np.cumsum(found, axis=1) - found
        return (checks.steps(way) * (1 - before)).sum(axis=1), before

    now, before = expected(order)
    last = [expected(np.concatenate([np.delete(order, k, 1), order[:, [k]]], 1))[0] for k in range(order.shape[1])]
    saved: Floats = np.round((np.column_stack(last) - now[:, None]) / np.maximum(1 - before, LEAST), 9) + 0.0
    return saved


def _times_best(
    checks: Checks, law: DirichletLaw, sensitivity: Floats, order: Whole, keys: list[tuple[str, ...]], count: int
) -> Whole:
    """Return in how many of 100 plausible worlds each step is the best of the checks still to be made."""
    rows, most = order.shape
    best = np.zeros((rows, most), dtype=np.intp)
    block = max(1, AT_ONCE // (count * most))
    for first in range(0, rows, block):
        part = slice(first, first + block)
        drawn = DirichletLaw(law.weight[part], law.unseen).draws(count, keys[part])
        best[part] = _share_best(checks.rows(part), drawn * sensitivity[part][:, None, :], order[part])
    return best


def _share_best(checks: Checks, gain: Floats, order: Whole) -> Whole:
    """Return the same from gains in each world, shape (rows, worlds, n)."""
    left, made = checks.free, checks.there & checks.safety
    share = np.zeros(order.shape, dtype=np.intp)
    row = np.arange(order.shape[0])
    for step in range(order.shape[1]):
        opening = np.where(left & ~checks.opened(made), checks.opening, 0.0)
        minutes, cover = np.where(left, checks.minutes, 1.0), np.where(left, checks.cover, -1)
        of_world = (np.broadcast_to(each[:, None, :], gain.shape) for each in (minutes, cover, opening))
        chosen = best_first(np.where(left[:, None, :], gain, -1.0), *of_world)
        share[:, step] = np.rint(100 * (chosen == order[:, [step]]).mean(axis=1))
        made = made.copy()
        made[row, order[:, step]] = checks.there[row, order[:, step]]
        left[row, order[:, step]] = False
    return share
