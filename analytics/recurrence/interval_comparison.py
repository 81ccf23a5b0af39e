"""Which series, and which position of a component, fails more often: two groups against each other."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import polars as pl

from analytics.estimators import adjust_p_values, rate_ratio
from analytics.estimators.seeds import generator
from analytics.recurrence.dealt_out import cars_dealt_out, sides_swapped
from analytics.recurrence.two_groups import at_one_age, within_cars

if TYPE_CHECKING:
    from analytics.parameters import Parameters
    from analytics.recurrence.two_groups import Unlike

BAND_DAYS = 3652
"""Cars change places with those of their band of age on joining: ten years."""
MOST_LEVELS = 12
"""Of more levels, those with most failures are compared."""
PAIR = ["component", "grouping", "level_a", "level_b"]
SIDES = ("a", "b")
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
    Series: :math:`\int Y_a Y_b / (Y_a + Y_b)\, d(M_b - M_a)`, Y the cars watched at an age and M the mean cumulative
    curves. It is the sum over the cars of b of their failures less what the curve of both together expects of them.
    Increments are weighed, not levels, so that a failure among the few cars that were watched young does not tilt
    everything that follows. Whole cars are dealt out anew between the two within bands of their age on joining;
    ages at which cars of one series alone joined are left out.

    Positions: cars that have both; the positions of each car are swapped at random. A position that rule 16
    filled in counts for neither.

    Limits are exact ones given all failures, widened by the root of how much more than a Poisson count the cars differ.
    P-values are adjusted by Benjamini and Hochberg over all comparisons.

    References
    ----------
    .. [1] Cook, Lawless and Nadeau (1996), Biometrics 52(2), 557-571: robust tests for recurrent events; from memory.
    """
    pairs = [*_series(faults, watch), *_positions(faults, watch)]
    if not pairs:
        return pl.DataFrame()
    enough = parameters.own_failures
    rows = pl.DataFrame([_told(*pair, enough) for pair in pairs], infer_schema_length=None).sort(PAIR)
    rows = _with_limits(rows.with_columns(pl.col("p_value").cast(pl.Float64)), parameters)
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
        .with_columns(stratum=pl.col("begin").floordiv(BAND_DAYS))
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


def _told(pair: Row, cars: pl.DataFrame, enough: int) -> Row:
    """Return counts, ratio and p-value of one pair; `share`: failures that b would have if both were alike."""
    rng = generator("interval_comparison", *pair.values())
    if pair["grouping"] == "position":
        n_a, n_b = (cars[f"n_{side}"].to_numpy().astype(np.float64) for side in SIDES)
        found, counts, years = within_cars(n_a, n_b), (n_a.sum(), n_b.sum()), (1.0, 1.0)
        vehicles = (cars.height, cars.height)
    else:
        found, counts, years, vehicles = _of_series(cars)
    row = {**pair, "ratio_seen": found.ratio, "wider": found.wider, "p_value": None}
    for side, n, watched, number in zip(SIDES, counts, years, vehicles, strict=True):
        row |= {f"failures_{side}": int(n), f"vehicles_{side}": int(number), f"years_{side}": float(watched)}
    if sum(counts) >= enough:
        row["p_value"] = (
            sides_swapped(found.value, rng)
            if pair["grouping"] == "position"
            else cars_dealt_out(found.value, cars["second"].to_numpy(), cars["stratum"].to_numpy(), rng)
        )
    return row


def _of_series(cars: pl.DataFrame) -> tuple[Unlike, tuple[float, float], tuple[float, float], tuple[int, int]]:
    begin, finish = (cars[name].to_numpy().astype(np.float64) for name in ("begin", "finish"))
    second, count = cars["second"].to_numpy(), cars["at"].list.len().to_numpy().astype(np.int64)
    age = cars["at"].explode(empty_as_null=False).to_numpy().astype(np.float64)
    found = at_one_age(begin, finish, second, (np.repeat(np.arange(begin.size), count), age))
    # what both together would expect of either: failures less what tells the cars apart
    usual = count - found.value
    sides = (~second, second)
    a, b = ((float(count[s].sum()), float(usual[s].sum()), int(s.sum())) for s in sides)
    return found, (a[0], b[0]), (a[1], b[1]), (a[2], b[2])


def _with_limits(rows: pl.DataFrame, parameters: Parameters) -> pl.DataFrame:
    """Add the ratio of the second over the first, with limits that allow for unlike cars."""
    counts = [rows[f"failures_{side}"] for side in ("b", "a")]
    years = [rows[f"years_{side}"] for side in ("b", "a")]
    exact = rate_ratio(counts[0], years[0], counts[1], years[1], parameters.confidence)
    found = pl.concat([rows, exact.drop("p_value")], how="horizontal")
    point = pl.col("ratio_seen")
    # of either side, failures at ages at which no car of the other was watched tell nothing
    apart = (pl.col("status") == "ok") & ~point.is_between(0.0, float("inf"), closed="none")
    few = (pl.col("failures_a") + pl.col("failures_b") < parameters.own_failures) | apart
    limits = [
        pl.when(pl.col("status") == "ok")
        .then(point * (pl.col(name) / pl.col("ratio")) ** pl.col("wider"))
        .otherwise(name)
        .alias(name)
        for name in ("lower", "upper")
    ]
    told = found.with_columns(
        *limits,
        rate_ratio=pl.when(pl.col("status") == "ok").then(point).otherwise("ratio"),
        status=pl.when(few).then(pl.lit("too few")).otherwise("status"),
    )
    shown = pl.col("rate_ratio", "lower", "upper", "p_value")
    kept = pl.when(pl.col("status") != "too few").then(shown).name.keep()
    return told.with_columns(kept).drop("ratio", "ratio_seen", "wider", "years_a", "years_b")
