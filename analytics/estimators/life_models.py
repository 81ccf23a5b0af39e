"""The life law of every group by the rule for few failures: its own, its family's, or a bound only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.errors import SpellError
from analytics.estimators.ages_asked import ages_asked
from analytics.estimators.family import Families, families_of, pooled_laws, unlike_family
from analytics.estimators.law_quantiles import law_table
from analytics.estimators.law_summary import SUMMARY, law_summary, survival_summary, words
from analytics.estimators.life_grid import life_grid
from analytics.estimators.life_laws import own_log_weight
from analytics.estimators.life_spells import life_spells
from analytics.estimators.posterior import RETURNED_SURVIVAL, laws_of
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.spells_in import group_codes, names
from analytics.parameters import Parameters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_grid import LifeGrid
    from analytics.estimators.life_laws import LifeLaws
    from analytics.estimators.life_spells import LifeSpells

    Flags = NDArray[np.bool_]
    Counts = NDArray[np.int64]

RETURNED = (
    *("failures", "units", "unit_time"),
    *SUMMARY,
    *("basis", "status", "family", "family_members", "family_failures"),
)

WITHIN = ("grouping", "scale")
"""Columns a family never reaches across: its members are groups of one grouping on one scale."""

UNIT = ("vehicle_id", "component", "position", "unit_no")
"""Columns that tell units apart, where spells carry them: a unit whose watching was cut has two rows."""

HALF_A_FAILURE = 0.5
"""What a group without failure and family is given in a forecast, as in its gamma-Poisson parts."""


@dataclass(frozen=True, slots=True)
class Choice:
    """Which law rule 34 gives each group.

    Attributes
    ----------
    own, pooled
        The law of a group's own units, and that of its family where it is usable.
    from_family, unlike
        Shape ``(groups,)``: whether the law shown is the family's; whether the group does not look like its family.
    families, family_name
        Family of each group.
    """

    own: LifeLaws
    pooled: LifeLaws
    from_family: Flags
    unlike: Flags
    families: Families
    family_name: pl.Series


def life_models(
    spells: pl.DataFrame,
    by: str | Sequence[str],
    family: str | None = None,
    *,
    ages: pl.DataFrame | None = None,
    parameters: Parameters | None = None,
) -> tuple[pl.DataFrame, pl.DataFrame]:
    """Say how long the units of each group last, borrowing from its family where few have failed (rule 34).

    Parameters
    ----------
    spells
        As in `life_posterior`.
    by
        Grouping columns. A family does not reach across `grouping` and `scale` if they are among them.
    family
        Column of `spells` that names the family of a group, the same in all its rows; null = none.
    ages
        Ages the survival is asked at: column `time` (whole days or km, above 0) and any columns of `by` that tell
        which groups it is for. None = round ages up to the group's longest exit.
    parameters
        `own_failures`, `family_members`, `family_failed`, `upper_open_ratio`, `confidence` and the prior of the shape.

    Returns
    -------
    tuple of DataFrame
        A row per group: the columns of `by`, `failures`, `units`, `unit_time` (sum of exit - entry), shape and lives
        as in `life_posterior`, `basis`, `status`, and `family`, `family_members`, `family_failures` where the family
        was asked for help (else null). And a row per group and age: the columns of `by`, `time`, `survival`,
        `lower`, `upper`, `basis`.

    Raises
    ------
    SpellError
        If rows break the contract of spells, or a group belongs to two families.

    Notes
    -----
    Failures 0: ``bound only``, lower limits. 1 to 4: ``family`` if its family is usable and the group not unlike it.
    Otherwise ``own``. Status ``unlike family``, ``upper open`` and ``ok`` in this order.
    """
    return models_and_laws(spells, by, family, ages=ages, parameters=parameters)[:2]


def models_and_laws(
    spells: pl.DataFrame,
    by: str | Sequence[str],
    family: str | None = None,
    *,
    ages: pl.DataFrame | None = None,
    parameters: Parameters | None = None,
) -> tuple[pl.DataFrame, pl.DataFrame, LifeLaws]:
    """Return what `life_models` does, and each group's law from its own units alone, as `life_ratios` compares them.

    Parameters
    ----------
    spells, by, family, ages, parameters
        As in `life_models`.

    Raises
    ------
    SpellError
        As `life_models`.
    """
    parameters = parameters or Parameters()
    by = names(by)
    rows = life_spells(spells, by, returned=(*RETURNED, *RETURNED_SURVIVAL), where="life_models(spells)")
    choice = _choose(rows, life_grid(rows), _family_names(spells, by, family, rows), parameters)
    laws = _mixed(choice.own, choice.pooled, choice.from_family)
    basis = np.where(laws.bound_only, "bound only", np.where(choice.from_family, "family", "own"))
    table = law_table(laws)
    columns, open_upper = law_summary(laws, table, parameters)
    status = np.where(open_upper, "upper open", "ok")
    status = np.where(choice.unlike, "unlike family", np.where(laws.bound_only, "bound only", status))
    counts = {
        "failures": pl.Series(laws.failures),
        "units": pl.Series(_units(spells, by, rows)),
        "unit_time": shown(_unit_time(spells, by, rows)),
    }
    said = {"basis": words(basis), "status": words(np.where(laws.units > 0, status, "too few"))}
    models = result_frame(rows.levels, None, {**counts, **columns, **said, **_family(choice)})
    asked, time = ages_asked(rows, ages)
    found = survival_summary(laws, table, asked, time.astype(np.float64), parameters)
    survival = result_frame(rows.levels, asked, {"time": pl.Series(time), **found, "basis": words(basis[asked])})
    return models, survival, choice.own


def forecast_laws(
    spells: pl.DataFrame,
    by: str | Sequence[str],
    family: str | None = None,
    *,
    parameters: Parameters | None = None,
) -> LifeLaws:
    """Return the law a forecast draws from, for each group: see `LifeLaws.draws` and `LifeLaws.heaviest`.

    Parameters
    ----------
    spells, by, family, parameters
        As in `life_models`.

    Raises
    ------
    SpellError
        As `life_models`.

    Notes
    -----
    The law of `life_models`, but never a bound: a group without failure takes its family's law, and without a usable
    family the law of half a failure in its exposure, as the gamma-Poisson parts of a forecast do.
    """
    parameters, by = parameters or Parameters(), names(by)
    rows = life_spells(spells, by, returned=("draw", "shape", "life", "weight"), where="forecast_laws(spells)")
    grid = life_grid(rows)
    choice = _choose(rows, grid, _family_names(spells, by, family, rows), parameters)
    lent = choice.from_family | (choice.families.usable & (choice.own.failures == 0))
    half = own_log_weight(grid, choice.own.failures, parameters, HALF_A_FAILURE)
    own = replace(choice.own, bound_only=np.zeros_like(lent), log_weight=half)
    return _mixed(own, choice.pooled, lent)


def _choose(rows: LifeSpells, grid: LifeGrid, named: pl.Series, parameters: Parameters) -> Choice:
    own = laws_of(rows, grid, parameters)
    families = families_of(rows, _family_number(named, rows), parameters)
    pooled = pooled_laws(grid, families, own, parameters)
    few = (own.failures < parameters.own_failures) & families.usable
    unlike = unlike_family(own, pooled, few, parameters)
    return Choice(own, pooled, few & ~unlike & (own.failures > 0), unlike, families, named)


def _mixed(own: LifeLaws, pooled: LifeLaws, from_family: Flags) -> LifeLaws:
    """Return the pooled law of some groups and the own law of the others."""
    return replace(
        own,
        log_weight=np.where(from_family[:, None, None], pooled.log_weight, own.log_weight),
        log_life50=np.where(from_family[:, None], pooled.log_life50, own.log_life50),
    )


def _family_names(spells: pl.DataFrame, by: tuple[str, ...], family: str | None, rows: LifeSpells) -> pl.Series:
    """Return the name of each group's family, null = none."""
    if family is None:
        return pl.Series([None] * rows.groups, dtype=pl.String)
    pairs = spells.select(*by, pl.col(family).cast(pl.String).replace("", None)).unique()
    group = group_codes(pairs, by)[1]
    twice = np.flatnonzero(np.bincount(group, minlength=rows.groups) > 1)
    if twice.size:
        raise SpellError(
            f"group {rows.levels.row(int(twice[0]))} belongs to more than one family",
            where=f"life_models(spells, family={family!r})",
            next_step="name one family in all rows of a group",
        )
    return pairs[family][np.argsort(group)]


def _family_number(named: pl.Series, rows: LifeSpells) -> Counts:
    """Return a number per group, the same for groups of one family within `WITHIN`; -1 = no family."""
    within = [column for column in rows.levels.columns if column in WITHIN]
    keys = rows.levels.with_columns(named.alias("name_of_family"))
    number = group_codes(keys, (*within, "name_of_family"))[1]
    return np.where(named.is_null().to_numpy(), -1, number)


def _family(choice: Choice) -> dict[str, pl.Series]:
    """Return name and size of the family where it was asked for help."""
    frame = pl.DataFrame(
        {
            "asked": choice.from_family | choice.unlike,
            "family": choice.family_name,
            "family_members": choice.families.members,
            "family_failures": choice.families.failures,
        }
    )
    return frame.select(pl.when("asked").then(pl.exclude("asked"))).to_dict()


def _unit_time(spells: pl.DataFrame, by: tuple[str, ...], rows: LifeSpells) -> NDArray[np.float64]:
    """Add up what was watched in the spells' own unit, where whole days and km add up exactly."""
    watched = (spells["exit"] - spells["entry"]).cast(pl.Float64).to_numpy()
    return np.bincount(group_codes(spells, by)[1], weights=watched, minlength=rows.groups).astype(np.float64)


def _units(spells: pl.DataFrame, by: tuple[str, ...], rows: LifeSpells) -> NDArray[np.int64]:
    """Count units, not rows, where the spells tell units apart."""
    if not set(UNIT) <= set(spells.columns):
        return rows.count()
    units = spells.select(list(dict.fromkeys((*by, *UNIT)))).unique()
    return np.bincount(group_codes(units, by)[1], minlength=rows.groups).astype(np.int64)
