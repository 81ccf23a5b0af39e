"""Spells of the same units on both scales, age and distance, and on every mixture of the two."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
import polars as pl

from analytics.estimators.life_spells import life_spells
from analytics.estimators.spells_in import group_codes, names, refuse_missing, refuse_rows

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from analytics.estimators.life_spells import LifeSpells

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]
    Counts = NDArray[np.int64]

AGES = {"age_entry": "entry", "age_exit": "exit", "age_exit_lower": "exit_lower"}
DISTANCES = {"distance_entry": "entry", "distance_exit": "exit", "distance_exit_lower": "exit_lower"}


@dataclass(frozen=True, slots=True)
class TwoScales:
    """Units watched on both scales, sorted by group; the same row is the same unit.

    Attributes
    ----------
    age, distance
        The spells, times as shares of each group's longest exit.
    slope
        Shape ``(n,)``: distance per age at the exit, in the units of both yardsticks; 1 where no failure is exact.
    units_without, failures_without
        Shape ``(groups,)``: units left out for want of a distance, and how many of them failed.
    uneven_points
        Shape ``(groups,)``: by how many percentage points failed units lack their distance more often than others.
    """

    age: LifeSpells
    distance: LifeSpells
    slope: Floats
    units_without: Counts
    failures_without: Counts
    uneven_points: Floats

    @property
    def group(self) -> Counts:
        """Return the row of `levels` of each spell."""
        return self.age.group

    @property
    def levels(self) -> pl.DataFrame:
        """Return the grouping columns, a row per group."""
        return self.age.levels

    @property
    def failed(self) -> Flags:
        """Return which units failed."""
        return self.age.failed

    def count(self, rows: Flags | None = None) -> Counts:
        """Return the number of units per group, of those in `rows` if given."""
        return self.age.count(rows)

    def per_group(self, values: Floats) -> Floats:
        """Return the sum of a value per unit over each group."""
        return np.bincount(self.group, weights=values, minlength=self.age.groups).astype(np.float64)

    def mixed(self, theta: float) -> LifeSpells:
        """Return the spells in ``u = age**(1 - theta) * distance**theta``; the yardstick is u's in days of age."""

        def u(age: Floats, distance: Floats) -> Floats:
            mixture: Floats = age ** (1 - theta) * distance**theta
            return mixture

        at, of = self.age, self.distance
        leave, yardstick = u(at.exit, of.exit), np.zeros(at.groups)
        np.maximum.at(yardstick, self.group, leave)
        unit = yardstick[self.group]
        return replace(
            at,
            entry=u(at.entry, of.entry) / unit,
            exit=leave / unit,
            lower=u(at.lower, of.lower) / unit,
            yardstick=np.where(yardstick > 0, yardstick, 1.0) * at.yardstick,
        )

    def log_slope(self, theta: float) -> Floats:
        """Return the sum of log(du / d age) over the exact failures of each group, u as in `mixed`."""
        at, of = self.age, self.distance
        change = (1 - theta) * np.log(at.exit) + theta * np.log(of.exit)
        change = change + np.log((1 - theta) / at.exit + theta * self.slope / of.exit)
        return self.per_group(np.where(at.exact, change, 0.0))


def two_scales(frame: pl.DataFrame, by: str | Sequence[str], *, returned: Sequence[str], where: str) -> TwoScales:
    """Check spells on both scales and pair them up.

    Parameters
    ----------
    frame
        Columns as in `choose_scale`.
    by
        Grouping columns.
    returned, where
        As in `life_spells`.

    Raises
    ------
    SpellError
        As `life_spells`, on either scale; or if a silent fault is an interval on one scale only, or a slope is not
        above 0.
    """
    by = names(by)
    refuse_missing(frame, [*by, "age_entry", "age_exit", "distance_entry", "distance_exit", "event", "slope"], where)
    levels, group = group_codes(frame, by)
    untold = pl.any_horizontal(pl.col("distance_entry", "distance_exit").is_null())
    without = frame.select(untold | ((pl.col("event") == 1) & pl.col("slope").is_null())).to_series().to_numpy()
    failed = (frame["event"] == 1).fill_null(value=False).to_numpy()
    kept = frame.filter(~without)
    age, distance = (_on_scale(kept, by, columns, returned, where) for columns in (AGES, DISTANCES))
    # a group none of whose units has a distance stays, with nothing in it
    place = group_codes(pl.concat([levels, age.levels]).select(by), by)[1][levels.height :] if by else np.zeros(1, int)
    age, distance = (_in_all(part, place, levels) for part in (age, distance))
    order = np.argsort(group[~without], kind="stable")
    slope = kept["slope"].cast(pl.Float64).to_numpy()[order]
    slope = np.where(age.exact, slope * age.yardstick[age.group] / distance.yardstick[age.group], 1.0)
    refuse_rows(~(slope > 0), "slope is not above 0", where, "give km a day at the failure", slope=slope)
    one_sided = (age.lower < age.exit) != (distance.lower < distance.exit)
    refuse_rows(one_sided, "a silent fault is an interval on one scale only", where, "give both exit_lower")
    missed = [np.bincount(group[rows], minlength=levels.height) for rows in (without, without & failed)]
    late = (frame["age_entry"] > 0).fill_null(value=False).to_numpy()
    points = _uneven_points(2 * group + late, failed, without, levels.height)
    return TwoScales(age, distance, slope, missed[0].astype(np.int64), missed[1].astype(np.int64), points)


def _uneven_points(kind: Counts, failed: Flags, without: Flags, groups: int) -> Floats:
    """Return the difference between failed units and others in the share without a distance, percentage points.

    Notes
    -----
    Units watched from their fitting on and units that entered late are compared among themselves, for the latter
    often lack their distance whatever becomes of them, and are older. Weights of Mantel and Haenszel.
    """

    def per_kind(rows: Flags) -> Floats:
        return np.bincount(kind[rows], minlength=2 * groups).astype(np.float64)

    fell, fell_without = per_kind(failed), per_kind(failed & without)
    stood, stood_without = per_kind(~failed), per_kind(~failed & without)
    weight = fell * stood / np.maximum(fell + stood, 1.0)
    difference = fell_without / np.maximum(fell, 1.0) - stood_without / np.maximum(stood, 1.0)
    sums = [value.reshape(groups, 2).sum(axis=1) for value in (weight * difference, weight)]
    points: Floats = 100 * sums[0] / np.maximum(sums[1], np.finfo(np.float64).tiny)
    return points


def _on_scale(
    frame: pl.DataFrame, by: tuple[str, ...], columns: dict[str, str], returned: Sequence[str], where: str
) -> LifeSpells:
    present = [pl.col(column).alias(name) for column, name in columns.items() if column in frame.columns]
    return life_spells(frame.select(*by, *present, "event"), by, returned=returned, where=where)


def _in_all(part: LifeSpells, place: Counts, levels: pl.DataFrame) -> LifeSpells:
    """Return the spells with all groups as their levels, those without a spell included."""
    yardstick = np.ones(levels.height)
    yardstick[place] = part.yardstick
    return replace(part, group=place[part.group], levels=levels, yardstick=yardstick)
