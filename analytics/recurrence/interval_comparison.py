"""Which series, and which position of a component, fails more often: two groups against each other."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from analytics.estimators import adjust_p_values
from analytics.estimators.seeds import generator
from analytics.recurrence.comparison import MOST_LEVELS
from analytics.recurrence.dealt_out import difference
from analytics.recurrence.two_groups import Groups, Sides, groups_of
from analytics.scales import AGE_BAND_DAYS

if TYPE_CHECKING:
    from analytics.parameters import Parameters

PAIR = ["component", "grouping", "level_a", "level_b"]
SIDES = ("a", "b")
NUMBERS = ("rate_ratio", "lower", "upper", "p_value")
Row = dict[str, Any]


def interval_comparisons(faults: pl.DataFrame, watch: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    r"""Compare how often a component fails in two series, and at two positions.

    Parameters
    ----------
    faults
        `vehicle_id`, `series`, `component`, `position`, `position_stated`, `at`: age of the car in days when it failed.
    watch
        `vehicle_id`, `series`, `component`, `position`, `begin`, `finish`: age of the car while it was watched.
    parameters
        `confidence`, `own_failures`.

    Returns
    -------
    polars.DataFrame
        Snapshot table ``interval_comparison``, a row per component and pair of levels, `level_a` before `level_b`.

    Notes
    -----
    Series: cars of one age are compared, failure by failure, among those that joined within the same ten years of
    age; whole cars are dealt out anew within these. Bands in which cars of one series alone joined are left out.

    Positions: cars that have both; the positions of each car are swapped at random. A position that rule 16
    filled in counts for neither.

    Ratio, limits and p-value come from one statistic (`difference`): failures of b less those expected of it at a
    ratio, in standard deviations of whole cars. P-values are adjusted by Benjamini and Hochberg over all comparisons.

    References
    ----------
    .. [1] Cook, Lawless and Nadeau (1996), Biometrics 52(2), 557-571: robust tests for recurrent events; from memory.
    """
    pairs = [*_series(faults, watch), *_positions(faults, watch)]
    if not pairs:
        return pl.DataFrame()
    told = [_told(*pair, parameters) for pair in pairs]
    rows = pl.DataFrame(told, infer_schema_length=None, schema_overrides=dict.fromkeys(NUMBERS, pl.Float64)).sort(PAIR)
    adjusted = adjust_p_values(rows["p_value"])["adjusted_p"]
    return rows.with_columns(adjusted_p=adjusted, comparisons=pl.lit(adjusted.count(), dtype=pl.Int64))


def _series(faults: pl.DataFrame, watch: pl.DataFrame) -> list[tuple[Row, pl.DataFrame]]:
    """Return each pair of series with its cars: `begin`, `finish`, `second`, `stratum`, ages of failure `at`."""
    windows = (
        watch.group_by("component", "vehicle_id", "series")
        .agg(pl.col("begin").min(), pl.col("finish").max())
        .filter(pl.col("finish") > pl.col("begin"))
    )
    pairs = _pairs(windows, faults, "series").with_columns(grouping=pl.lit("series"))
    both = pl.concat([pairs.with_columns(series=f"level_{side}", second=pl.lit(side == "b")) for side in SIDES])
    cars = (
        _with_ages(windows, faults, ["component", "vehicle_id"])
        .join(both, on=["component", "series"], how="inner")
        .with_columns(stratum=pl.col("begin").floordiv(AGE_BAND_DAYS))
        .filter(pl.col("second").n_unique().over(*PAIR, "stratum") == len(SIDES))
        .sort(*PAIR, "vehicle_id")
    )
    return [(part.select(PAIR).row(0, named=True), part) for part in cars.partition_by(PAIR, maintain_order=True)]


def _positions(faults: pl.DataFrame, watch: pl.DataFrame) -> list[tuple[Row, pl.DataFrame]]:
    """Return each pair of positions with the cars that have both: failures `n_a`, `n_b`."""
    named = watch.filter(~pl.col("position").is_in(["all", "only"]) & (pl.col("finish") > pl.col("begin")))
    stated = faults.filter("position_stated")
    pairs = _pairs(named, stated, "position").with_columns(grouping=pl.lit("position"))
    key = ["component", "vehicle_id", "position"]
    counts = _with_ages(named, stated, key).select(*key, n=pl.col("at").list.len())
    cars = pairs
    for side in SIDES:
        renamed = counts.rename({"position": f"level_{side}", "n": f"n_{side}"})
        on = ["component", f"level_{side}", *(["vehicle_id"] if side == "b" else [])]
        cars = cars.join(renamed, on=on, how="inner")
    parts = cars.sort(*PAIR, "vehicle_id").partition_by(PAIR, maintain_order=True)
    return [(part.select(PAIR).row(0, named=True), part) for part in parts]


def _with_ages(windows: pl.DataFrame, faults: pl.DataFrame, key: list[str]) -> pl.DataFrame:
    """Add the ages at which each window saw a failure, as a list."""
    ages = (
        faults.join(windows.select(*key, "begin", "finish"), on=key, how="inner")
        .with_columns(at=pl.max_horizontal("at", pl.col("begin") + 1))
        .filter(pl.col("at") <= pl.col("finish"))
        .group_by(key)
        .agg(pl.col("at").sort())
    )
    return windows.join(ages, on=key, how="left").with_columns(pl.col("at").fill_null(pl.lit([], pl.List(pl.Int64))))


def _pairs(windows: pl.DataFrame, faults: pl.DataFrame, level: str) -> pl.DataFrame:
    """Return the pairs of levels of each component: those with most failures where there are many."""
    failures = faults.group_by("component", level).agg(failures=pl.len().cast(pl.Int64))
    levels = windows.filter(pl.col(level) != "all").select("component", level).unique()
    ranked = levels.join(failures, on=["component", level], how="left").with_columns(pl.col("failures").fill_null(0))
    place = pl.struct(-pl.col("failures"), level).rank("ordinal").over("component")
    kept = ranked.filter(place <= MOST_LEVELS).select("component", level_a=level)
    both = kept.join(kept.rename({"level_a": "level_b"}), on="component")
    return both.filter(pl.col("level_a") < pl.col("level_b"))


def _told(pair: Row, cars: pl.DataFrame, parameters: Parameters) -> Row:
    """Return counts, ratio, limits and p-value of one pair."""
    rng = generator("interval_comparison", *pair.values())
    two: Sides | Groups
    if pair["grouping"] == "position":
        two = Sides(*(cars[f"n_{side}"].to_numpy().astype(np.float64) for side in SIDES))
        draw, seen, vehicles = partial(two.swapped, rng=rng), two.counts, (cars.height, cars.height)
    else:
        two = _groups(cars)
        draw, second = partial(two.dealt, rng=rng), cars["second"].to_numpy()
        count = cars["at"].list.len().to_numpy()
        seen = (float(count[~second].sum()), float(count[second].sum()))
        vehicles = (int((~second).sum()), int(second.sum()))
    row = dict(pair)
    for side, n, number in zip(SIDES, seen, vehicles, strict=True):
        row |= {f"failures_{side}": int(n), f"vehicles_{side}": number}
    a, b = two.counts
    if a + b < parameters.own_failures:
        return row | dict.fromkeys(NUMBERS) | {"status": "too few"}
    found = difference(two.apart, draw, (a, b), cars.height, parameters.confidence)
    numbers = zip(NUMBERS, (found.ratio, found.lower, found.upper, found.p_value), strict=True)
    told = {name: value if np.isfinite(value) else None for name, value in numbers}
    return row | told | {"status": "ok" if a and b else "bound only" if a else "upper open"}


def _groups(cars: pl.DataFrame) -> Groups:
    begin, finish = (cars[name].to_numpy().astype(np.float64) for name in ("begin", "finish"))
    age = cars["at"].explode(empty_as_null=False).to_numpy().astype(np.float64)
    car = np.repeat(np.arange(begin.size), cars["at"].list.len().to_numpy().astype(np.int64))
    return groups_of(begin, finish, cars["second"].to_numpy(), cars["stratum"].to_numpy(), (car, age))
