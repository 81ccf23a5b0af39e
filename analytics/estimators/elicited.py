"""What an expert says of newly fitted units, as a prior of their life law that data soon outweigh."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.errors import SpellError
from analytics.estimators.known_units import log_fails_within
from analytics.estimators.life_grid import LIFE_POINTS
from analytics.estimators.life_laws import highest_zero, log_prior
from analytics.estimators.shapes import LOG_LN2, SHAPE
from analytics.estimators.spells_in import refuse_missing, refuse_null, refuse_rows, times

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.estimators.life_spells import LifeSpells
    from analytics.parameters import Parameters

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]

TOLD = ("first_age", "first_good", "second_age", "second_good", "cars")
"""Columns of an opinion."""

MOST_CARS = 5.0
"""No opinion counts for more cars than this."""

DOUBT = 0.05
"""Share of the prior that lies evenly over shorter lives, so that failures can contradict an opinion (judgement).

Towards longer lives an opinion falls off as slowly as a few failures do, and needs no such help.
"""

REACH = 6.0
"""Logs of life to either side of the expert's own median over which the opinion is spread, and the doubt below it."""


@dataclass(frozen=True, slots=True)
class Opinions:
    """Checked opinions, a row each.

    Attributes
    ----------
    group
        Shape ``(k,)``, row of the levels each is about.
    age
        Shape ``(k, 2)``, rising, days or km.
    good
        Shape ``(k, 2)``, share of newly fitted units still good at either age, falling, between 0 and 1.
    cars
        Shape ``(k,)``, how many units the opinion stands for.
    """

    group: Counts
    age: Floats
    good: Floats
    cars: Floats


def opinions_in(prior: pl.DataFrame | None, by: Sequence[str], rows: LifeSpells, where: str) -> Opinions:
    """Check a frame of opinions and find the group each is about.

    Parameters
    ----------
    prior
        A row per opinion: the columns of `by` and `TOLD`; None = no opinion.
    by
        Grouping columns.
    rows
        The spells they are to be put together with.
    where
        Name of the calling estimator, for messages.

    Raises
    ------
    SpellError
        If a column is missing, a value null or impossible, or a group has two opinions or no spell.
    """
    if prior is None:
        return Opinions(np.zeros(0, np.int64), np.ones((0, 2)), np.ones((0, 2)), np.ones(0))
    refuse_missing(prior, (*by, *TOLD), where)
    refuse_null(prior, TOLD, where)
    first_age, first_good, second_age, second_good, cars = (
        values.astype(np.float64) for values in times(prior, *TOLD, where=where)
    )
    rising = (first_age > 0) & (second_age > first_age)
    said = {"first_age": first_age, "second_age": second_age}
    refuse_rows(~rising, "the ages do not rise from above 0", where, "give two ages, the earlier one first", **said)
    falling = (first_good < 1) & (second_good < first_good) & (second_good > 0)
    shares = {"first_good": first_good, "second_good": second_good}
    step = "give shares strictly between 0 and 1, fewer at the later age"
    refuse_rows(~falling, "the shares still good do not fall between 1 and 0", where, step, **shares)
    refuse_rows(~(cars > 0), "the opinion is worth no car", where, "give how many cars it is worth, above 0", cars=cars)
    group = _groups(prior, by, rows, where)
    ages, good = np.stack((first_age, second_age), axis=1), np.stack((first_good, second_good), axis=1)
    return Opinions(group, ages, good, np.minimum(cars, MOST_CARS))


def with_opinions(
    log_weight: Floats, grid: LifeGrid, rows: LifeSpells, said: Opinions, parameters: Parameters
) -> tuple[Floats, Floats]:
    """Return log weights in which opinions stand for the default prior, and each group's share owed to its opinion.

    Parameters
    ----------
    log_weight
        Shape ``(groups, shapes, lives)``, with the default prior.
    grid, rows, said
        Likelihood, spells and opinions.
    parameters
        Default prior of the log shape, which the opinion is put on top of.

    Returns
    -------
    tuple of NDArray
        The log weights, and per group the share of what is known of log life50 that the opinion brings:
        1 - variance with it / variance without; NaN where there is none.

    Notes
    -----
    An opinion worth m cars counts as m units seen at its two ages only: log prior = m * sum of p log q over the three
    stretches of life, p the shares the expert states and q those of a law. It is highest at the law that has both.
    Where no unit has failed it stands on what the exact bound stands on, a law flat in the rate of failing, not in log
    life, else the lower limits would claim too much; and nothing then says that lives are shorter, so no doubt is due.
    """
    share = np.full(log_weight.shape[0], np.nan)
    if said.group.size == 0:
        return log_weight, share
    lives = grid.log_life50[said.group]
    log_age, centre = _centred(said, rows)
    none = rows.count(rows.failed)[said.group] == 0
    flat_in_rate = none[:, None, None] * SHAPE[:, None] * (centre[:, None] - lives)[:, None, :]
    opinion, doubted = _log_densities(said, log_age, centre, lives, parameters)
    prior = np.where(none[:, None, None], opinion + flat_in_rate, doubted)
    told = highest_zero(grid.log_likelihood[said.group] + prior)
    without = _variance(log_weight[said.group], lives)
    share[said.group] = np.clip(1 - _variance(told, lives) / without, 0.0, 1.0)
    changed = log_weight.copy()
    changed[said.group] = told
    return changed, share


def stated_log_median(log_age: Floats, good: Floats) -> Floats:
    """Return the log median life of the Weibull law through both points of each opinion, ``(k,)``.

    Parameters
    ----------
    log_age, good
        Shape ``(k, 2)``: logs of the ages, and the shares still good then.
    """
    log_hazard = np.log(-np.log(good))
    shape = (log_hazard[:, 1] - log_hazard[:, 0]) / (log_age[:, 1] - log_age[:, 0])
    median: Floats = log_age[:, 0] + (LOG_LN2 - log_hazard[:, 0]) / shape
    return median


def _groups(prior: pl.DataFrame, by: Sequence[str], rows: LifeSpells, where: str) -> Counts:
    if not by:
        group = np.zeros(prior.height, np.int64)
    else:
        levels = rows.levels.with_row_index("row_of_group")
        found = prior.select(by).join(levels, on=list(by), how="left", nulls_equal=True, maintain_order="left")
        missing = found["row_of_group"].is_null().to_numpy()
        refuse_rows(missing, "an opinion is about a group without spells", where, "leave it out")
        group = found["row_of_group"].cast(pl.Int64).to_numpy()
    if np.unique(group).size < group.size:
        raise SpellError("a group has two opinions", where=where, next_step="give one row for each group")
    return group


def _centred(said: Opinions, rows: LifeSpells) -> tuple[Floats, Floats]:
    """Return logs of the ages ``(k, 2)`` and of the expert's own median life ``(k,)``, as shares of the yardstick."""
    log_age = np.log(said.age / rows.yardstick[said.group, None])
    return log_age, stated_log_median(log_age, said.good)


def _log_densities(
    said: Opinions, log_age: Floats, centre: Floats, lives: Floats, parameters: Parameters
) -> tuple[Floats, Floats]:
    """Return the log prior per shape and log life, ``(k, shapes, lives)``, as told and with the doubt."""
    around = centre[:, None] + np.linspace(-REACH, REACH, LIFE_POINTS)
    step = 2 * REACH / (LIFE_POINTS - 1)
    base = log_prior(parameters)[:, None]
    whole = _said(said, log_age, around) + base
    highest = whole.max(axis=(1, 2), keepdims=True)
    total = highest + np.log(np.exp(whole - highest).sum(axis=(1, 2), keepdims=True) * step)
    even = base - np.log(np.exp(base).sum() * REACH)
    opinion = _said(said, log_age, lives) + base - total
    shorter = (lives < centre[:, None])[:, None, :]
    kept = np.log(1 - DOUBT) + opinion
    return opinion, np.where(shorter, np.logaddexp(kept, np.log(DOUBT) + even), kept)


def _said(said: Opinions, log_age: Floats, lives: Floats) -> Floats:
    """Return what the opinions say of each law, as units seen at two ages only, ``(k, shapes, lives)``."""
    early, late = (LOG_LN2 + SHAPE[:, None] * (log_age[:, place, None, None] - lives[:, None, :]) for place in (0, 1))
    apart = SHAPE * (log_age[:, 1] - log_age[:, 0])[:, None]
    between = early + (apart + np.log(-np.expm1(-apart)))[:, :, None]
    before, after = np.exp(np.minimum(early, 600.0)), np.exp(np.minimum(late, 600.0))
    failed, lost, good = (
        share[:, None, None] for share in (1 - said.good[:, 0], said.good[:, 0] - said.good[:, 1], said.good[:, 1])
    )
    told: Floats = failed * log_fails_within(early) + lost * (log_fails_within(between) - before) - good * after
    return said.cars[:, None, None] * told


def _variance(log_weight: Floats, lives: Floats) -> Floats:
    """Return the variance of log life50 of each law."""
    weight = np.exp(log_weight).sum(axis=1)
    weight /= weight.sum(axis=1, keepdims=True)
    mean = (weight * lives).sum(axis=1, keepdims=True)
    spread: Floats = (weight * (lives - mean) ** 2).sum(axis=1)
    return spread
