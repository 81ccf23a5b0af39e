"""What the pages offer as CSV: their figures one by one, each column's name telling the unit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import polars as pl

from dashboards import words
from dashboards.answers import curves, follow_on, modified, places, slots, trends

if TYPE_CHECKING:
    from dashboards.answers.apart import Apart
    from dashboards.answers.said import Row

INK, PENCIL = (words.STATES[state][1] for state in ("ink", "pencil"))
LEAST, MOST = "at_least", "at_most"
CHANGES = ("yearly_change", "yearly_change_lower", "yearly_change_upper", "detectable_yearly_change")
"""Columns of ``failure_interval`` that a snapshot of an earlier version does not have."""


def of_life(law: pl.DataFrame, scale: str, state: words.State, firm: float) -> pl.DataFrame:
    """Return a drawn curve as a table: age in years or distance in km, of 100 parts still working, how it is known.

    Parameters
    ----------
    law
        As from `law` or `law_of_steps`.
    scale
        age or distance.
    state
        How it is known where it is firm.
    firm
        Where a curve in ink goes on in pencil, in shown units.
    """
    name, size = ("years_since_fitted", 1.0) if scale == "age" else ("km_since_fitted", curves.UNITS[scale][1])
    of_hundred = {"still_working_of_100": "survival", "at_least": "lower", "at_most": "upper"}
    beyond = pl.lit(state == "ink") & (pl.col("time") > firm)
    return law.select(
        pl.col("time").mul(size).alias(name),
        *(pl.col(column).cast(pl.Float64).mul(100).alias(said) for said, column in of_hundred.items()),
        known=pl.when(beyond).then(pl.lit(words.STATES["pencil"][1])).otherwise(pl.lit(words.STATES[state][1])),
    )


def of_places(frame: pl.DataFrame) -> pl.DataFrame:
    """Return the places with their faults, what chance gives, and how many times that.

    Parameters
    ----------
    frame
        As from `places.ready`, of one series, basis and level.
    """
    return frame.select(
        place="label",
        series="series",
        compared_with=pl.col("basis").replace(places.BASES),
        visits_with_a_fault="observed",
        visits_by_chance="expected",
        cars_with_a_fault="vehicles",
        times_chance="shown",
        at_least="shown_lower",
        at_most="shown_upper",
        stands_out=pl.when("sure").then(pl.lit("yes")).otherwise(pl.lit("no")),
        known=pl.when("few").then(pl.lit(PENCIL)).otherwise(pl.lit(INK)),
    )


def of_slots(intervals: pl.DataFrame, apart: Apart) -> pl.DataFrame:
    """Return the rates of one component's slots or series; `intervals`: as from `Apart.of`."""
    kept = slots.listed(intervals)
    return kept.select(
        component="component",
        **{apart.noun: "position"},
        failures="failures",
        cars="vehicles",
        car_years="vehicle_years",
        failures_a_year_in_100_cars="rate_per_100_vehicle_years",
        at_least="rate_lower",
        at_most="rate_upper",
        known=pl.Series([slots.known(row) for row in kept.iter_rows(named=True)], dtype=pl.String),
        trend=pl.Series([trends.verdict(row) for row in kept.iter_rows(named=True)], dtype=pl.String),
        failures_recorded="events_seen",
        **{name: name for name in CHANGES if name in kept.columns},
    )


def of_modification(row: Row) -> pl.DataFrame:
    """Return failures and rates before, since and unmodified, and what would have come since without it.

    `row`: of ``before_after``.
    """
    told = []
    for period in ("before", "after", "unmodified"):
        figures = {"failures": row[f"{period}_failures"], "part_years": row[f"{period}_years"]}
        limits = {LEAST: row[f"{period}_lower"], MOST: row[f"{period}_upper"]}
        told.append(
            {
                "watched": modified.PERIODS[period],
                **figures,
                "failures_a_year_in_100_parts": row[f"{period}_rate"],
                **limits,
            }
        )
    since = pl.col("watched") == modified.PERIODS["after"]
    more = {"expected_without_it": row["expected"], "times_expected": row["ratio"]}
    more |= {"times_at_least": row["lower"], "times_at_most": row["upper"]}
    return pl.DataFrame(told, infer_schema_length=None).select(
        pl.lit(row["component"]).alias("component"),
        pl.lit(row["modification"]).alias("modification"),
        pl.all(),
        *(pl.when(since).then(pl.lit(value, dtype=pl.Float64)).alias(name) for name, value in more.items()),
        cars=pl.lit(row["vehicles"]),
    )


def of_repairs(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the kinds of repair with how many came back; `rows`: as from `held.ready`."""
    return rows.select(
        component="component",
        what_was_done="action",
        origin_of_part="part_origin",
        repairs_watched="repairs",
        came_back="returns",
        cars="vehicles",
        came_back_of_100="shown",
        at_least="shown_lower",
        at_most="shown_upper",
        by_chance_of_100="chance",
        chance_at_least="chance_least",
        chance_at_most="chance_most",
        verdict="verdict",
    )


def of_pairs(rows: pl.DataFrame) -> pl.DataFrame:
    """Return which component failed after which; `rows`: as from `follow_on.ready`."""
    share = pl.col("share", "share_lower", "share_upper") * 100
    return rows.select(
        "first",
        "then",
        pl.col("n_first_then").alias("cars_in_this_order"),
        pl.col("n_then_first").alias("cars_the_other_way_round"),
        pl.col("first_watched").alias("failures_of_first_watched"),
        "followed",
        share,
        "window_days",
        pl.col("verdict").replace({verdict: said for verdict, (said, _) in follow_on.VERDICTS.items()}),
    ).rename({"share": "followed_of_100", "share_lower": LEAST, "share_upper": MOST})


def of_checks(rows: pl.DataFrame) -> pl.DataFrame:
    """Return the checks in order, with chances, minutes and what each saves; `rows`: of ``check_order``.

    The last check has nothing to be compared with.
    """
    before_last = pl.col("step") < pl.col("step").max()
    return rows.select(
        "complaint",
        "series",
        "step",
        check="component",
        place="location",
        chance_of_100=pl.col("probability") * 100,
        at_least=pl.col("probability_lower") * 100,
        at_most=pl.col("probability_upper") * 100,
        minutes="minutes",
        minutes_to_open="access_minutes",
        minutes_after="minutes_after",
        found_by_now_of_100=pl.col("found_by_now") * 100,
        minutes_saved_against_last=pl.when(before_last).then("minutes_saved"),
        best_next_in_of_100_worlds=pl.when(before_last).then("times_best_of_100"),
        closed_jobs_ended_here="jobs",
        closed_jobs="own_jobs",
        known=pl.when(pl.col("basis") == "own").then(pl.lit(INK)).otherwise(pl.lit(PENCIL)),
    )


def of_quality(rows: pl.DataFrame) -> pl.DataFrame:
    """Return what the records cannot tell; `rows`: of ``data_quality``."""
    return rows.select("kind", "count", pl.col("share").mul(100).alias("of_100"), "says")
