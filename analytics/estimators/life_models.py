"""The life law of every group by the rule for few failures: its own, its family's, or a bound only."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.errors import SpellError
from analytics.estimators.ages_asked import ages_asked
from analytics.estimators.family import Families, families_of, pooled_laws, unlike_family
from analytics.estimators.law_summary import SUMMARY, law_summary, survival_summary, words
from analytics.estimators.life_grid import life_grid
from analytics.estimators.life_laws import LifeLaws, own_log_weight
from analytics.estimators.life_spells import life_spells
from analytics.estimators.posterior import RETURNED_SURVIVAL
from analytics.estimators.result_frame import result_frame, shown
from analytics.estimators.spells_in import group_codes, names
from analytics.parameters import Parameters

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

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
class ChosenLaws:
    """Laws of every group after rule 34, and how they came about.

    Attributes
    ----------
    laws
        The law shown; a bound only where nothing has failed.
    forecast
        The law a forecast draws from: never a bound.
    from_family, unlike
        Shape ``(groups,)``: whether the law shown is the family's; whether the group does not look like its family.
    families, family_name
        Family of each group.
    """

    laws: LifeLaws
    forecast: LifeLaws
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
    parameters = parameters or Parameters()
    by = names(by)
    rows, chosen = _choose(spells, by, family, parameters)
    basis = np.where(chosen.laws.bound_only, "bound only", np.where(chosen.from_family, "family", "own"))
    columns, open_upper = law_summary(chosen.laws, parameters)
    status = np.where(open_upper, "upper open", "ok")
    status = np.where(chosen.unlike, "unlike family", np.where(chosen.laws.bound_only, "bound only", status))
    counts = {
        "failures": pl.Series(chosen.laws.failures),
        "units": pl.Series(_units(spells, by, rows)),
        "unit_time": shown(_unit_time(spells, by, rows)),
    }
    said = {"basis": words(basis), "status": words(np.where(chosen.laws.units > 0, status, "too few"))}
    models = result_frame(rows.levels, None, {**counts, **columns, **said, **_family(chosen)})
    asked, time = ages_asked(rows, ages)
    found = survival_summary(chosen.laws, asked, time.astype(np.float64), parameters)
    survival = result_frame(rows.levels, asked, {"time": pl.Series(time), **found, "basis": words(basis[asked])})
    return models, survival


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
    return _choose(spells, names(by), family, parameters or Parameters())[1].forecast


def _choose(
    spells: pl.DataFrame, by: tuple[str, ...], family: str | None, parameters: Parameters
) -> tuple[LifeSpells, ChosenLaws]:
    rows = life_spells(spells, by, returned=(*RETURNED, *RETURNED_SURVIVAL), where="life_models(spells)")
    failures = rows.count(rows.failed)
    grid, none = life_grid(rows), failures == 0
    weight = own_log_weight(grid, failures, parameters)
    own = LifeLaws(rows.levels, rows.count(), failures, none, rows.yardstick, grid.log_life50, weight)
    named = _family_names(spells, by, family, rows)
    families = families_of(rows, _family_number(named, rows), parameters)
    pooled = pooled_laws(rows, families, own, parameters)
    few = (failures < parameters.own_failures) & families.usable
    unlike = few & unlike_family(own, pooled, parameters)
    from_family = few & ~unlike & ~none
    half = replace(own, bound_only=none & ~none)
    if (none & ~few).any():
        half = replace(half, log_weight=own_log_weight(grid, failures, parameters, HALF_A_FAILURE))
    forecast = _mixed(half, pooled, few & ~unlike)
    return rows, ChosenLaws(_mixed(own, pooled, from_family), forecast, from_family, unlike, families, named)


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


def _family(chosen: ChosenLaws) -> dict[str, pl.Series]:
    """Return name and size of the family where it was asked for help."""
    frame = pl.DataFrame(
        {
            "asked": chosen.from_family | chosen.unlike,
            "family": chosen.family_name,
            "family_members": chosen.families.members,
            "family_failures": chosen.families.failures,
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
