"""Borrow strength from similar parts: laws of a family's members pooled, and members unlike the rest flagged."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.grid_between import along
from analytics.estimators.law_quantiles import law_table
from analytics.estimators.law_summary import SUMMARY, law_summary, shares, words
from analytics.estimators.life_grid import life_grid
from analytics.estimators.life_laws import highest_zero
from analytics.estimators.life_spells import life_spells
from analytics.estimators.pooling import family_lives, pooled_log_weight
from analytics.estimators.posterior import laws_of
from analytics.estimators.result_frame import result_frame
from analytics.estimators.spells_in import group_codes, names
from analytics.parameters import Parameters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.estimators.life_laws import LifeLaws
    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]
    Counts = NDArray[np.int64]
    Flags = NDArray[np.bool_]

RETURNED = ("units", "failures", *SUMMARY, "family_members", "family_failures", "status")


@dataclass(frozen=True, slots=True)
class Families:
    """Which family each group belongs to, and what that family holds.

    Attributes
    ----------
    of_group
        Shape ``(groups,)``, number of the family; -1 = none.
    members, failures
        Shape ``(groups,)``, of the group's family; 0 without one.
    usable
        Shape ``(groups,)``: whether the family has members and failed members enough (rule 34).
    """

    of_group: Counts
    members: Counts
    failures: Counts
    usable: Flags


def fit_family(
    spells: pl.DataFrame, members: str, by: str | Sequence[str] = (), *, parameters: Parameters | None = None
) -> pl.DataFrame:
    """Say how long the units of each member of a family last, given how long those of the others do.

    Parameters
    ----------
    spells
        As in `life_posterior`, all of one scale in a family.
    members
        Column that names the member.
    by
        Columns that name the family.
    parameters
        Rule 34: `family_members`, `family_failed` (a usable family), prior, `confidence`, `upper_open_ratio`.

    Returns
    -------
    DataFrame
        A row per member: the columns of `by` and `members`, `units`, `failures`, the shape and lives of
        `life_posterior` from the pooled posterior, `family_members`, `family_failures`, `status`: ``ok``, ``upper
        open``, ``unlike family``, or ``too few`` (no numbers) where the family is not usable. Members without a
        failure have numbers too.

    Raises
    ------
    SpellError
        If rows break the contract of spells.

    Notes
    -----
    See `pooled_log_weight`. A member with failures is unlike its family if the median of life50 from its own units
    lies outside the pooled limits, or the pooled median outside its own limits. With one to four failures of its own
    a member that differs by a factor of three is flagged in a quarter of the cases at best: it cannot be known.
    """
    parameters = parameters or Parameters()
    by = names(by)
    rows = life_spells(spells, (*by, members), returned=RETURNED, where="fit_family(spells, members)")
    families = families_of(rows, group_codes(rows.levels, by)[1], parameters)
    grid = life_grid(rows)
    own = laws_of(rows, grid, parameters)
    pooled = pooled_laws(grid, families, own, parameters)
    unlike = unlike_family(own, pooled, families.usable, parameters)
    columns, open_upper = law_summary(pooled, law_table(pooled), parameters)
    status = np.where(unlike, "unlike family", np.where(open_upper, "upper open", "ok"))
    status = np.where(families.usable, status, "too few")
    usable = pl.Series(families.usable)
    numbers = {name: column.zip_with(usable, column.clear(column.len())) for name, column in columns.items()}
    counts = {"units": pl.Series(pooled.units), "failures": pl.Series(pooled.failures)}
    family = {"family_members": pl.Series(families.members), "family_failures": pl.Series(families.failures)}
    return result_frame(rows.levels, None, {**counts, **numbers, **family, "status": words(status)})


def families_of(rows: LifeSpells, family: Counts, parameters: Parameters) -> Families:
    """Return the families of groups, from a family number per group (-1 = none)."""
    failures = rows.count(rows.failed)
    kept = family >= 0
    size = int(family.max(initial=-1)) + 1
    members, failed = (np.bincount(family[kept & chosen], minlength=size) for chosen in (failures >= 0, failures > 0))
    total = np.bincount(family[kept], weights=failures[kept], minlength=size).astype(np.int64)
    usable = (members >= parameters.family_members) & (failed >= parameters.family_failed)
    pick = np.maximum(family, 0)
    if size == 0:
        nothing = np.zeros(family.size, np.int64)
        return Families(family, nothing, nothing, nothing > 0)
    return Families(family, np.where(kept, members[pick], 0), np.where(kept, total[pick], 0), kept & usable[pick])


def pooled_laws(grid: LifeGrid, families: Families, own: LifeLaws, parameters: Parameters) -> LifeLaws:
    """Return the pooled law of every member of a usable family, the own law of all other groups.

    Notes
    -----
    The likelihood on the family's grid is read off each member's own grid, which holds all of it that matters.
    """
    log_weight, log_life50 = own.log_weight.copy(), own.log_life50.copy()
    for number in np.unique(families.of_group[families.usable]):
        member = np.flatnonzero(families.of_group == number)
        unit = own.yardstick[member]
        lives = family_lives() + np.log(unit.max() / unit)[:, None]
        first, second = grid.log_life50[member, 0], grid.log_life50[member, 1]
        place = (lives - first[:, None]) / (second - first)[:, None]
        log_likelihood = along(grid.log_likelihood[member], place[:, None, :])
        log_weight[member] = highest_zero(pooled_log_weight(log_likelihood, parameters))
        log_life50[member] = lives
    return replace(own, bound_only=own.bound_only & ~families.usable, log_life50=log_life50, log_weight=log_weight)


def unlike_family(own: LifeLaws, pooled: LifeLaws, asked: Flags, parameters: Parameters) -> Flags:
    """Return which of the groups asked for have failures, and an own and a pooled life50 that do not fit together."""
    some = np.flatnonzero(asked & (own.failures > 0))
    flags = np.zeros(own.failures.size, dtype=np.bool_)
    mine, theirs = (law_table(laws.only(some)).life(0.5, shares(parameters)) for laws in (own, pooled))
    flags[some] = _outside(mine[:, 0], theirs) | _outside(theirs[:, 0], mine)
    return flags


def _outside(value: Floats, points: Floats) -> Flags:
    return (value < points[:, 1]) | (value > points[:, 2])
