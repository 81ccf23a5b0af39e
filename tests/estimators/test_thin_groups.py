"""What curves, means and tests say to too little, figure by figure."""

import polars as pl
import pytest

from analytics.estimators import (
    cumulative_incidence,
    kaplan_meier,
    log_rank,
    mean_cumulative_function,
    nelson_aalen,
    restricted_mean,
)
from tests.estimators.cases import spells

CURVES = {
    "kaplan_meier": lambda frame: kaplan_meier(frame, by="kind"),
    "nelson_aalen": lambda frame: nelson_aalen(frame, by="kind"),
    "mean_cumulative_function": lambda frame: mean_cumulative_function(frame, by="kind", cluster="car"),
    "cumulative_incidence": lambda frame: cumulative_incidence(frame, "why", by="kind"),
}


def frame(**columns):
    made = spells(**columns)
    rows = range(made.height)
    return made.with_columns(
        kind=pl.Series(["ab"[row % 2] for row in rows], dtype=pl.String),
        car=pl.Series([row // 2 for row in rows], dtype=pl.Int64),
        why=pl.Series(["leak" if row % 3 else "wear" for row in rows], dtype=pl.String),
    )


THIN = {
    "no failure": frame(exit=[5, 6, 7, 9], event=0),
    "one failure": frame(exit=[5, 6, 7, 9], event=[0, 1, 0, 0]),
    "one unit": frame(exit=[5]),
    "one unit without failure": frame(exit=[5], event=0),
    "all failed": frame(exit=[2, 3, 5, 6, 8]),
    "all failed at one time": frame(exit=[7] * 6),
    "all entered late": frame(entry=[1000, 1001, 1500, 1200], exit=[1100, 1300, 1600, 1900]),
    "late entry at a failure": frame(entry=[0, 5, 0, 5], exit=[5, 9, 5, 9]),
    "a gap after all had failed": frame(entry=[0, 0, 9, 9], exit=[2, 3, 12, 15]),
    "nobody watched in between": frame(entry=[0, 0, 9, 9], exit=[2, 3, 12, 15], event=[1, 0, 1, 0]),
    "tiny times": frame(entry=[0.0, 0.0005, 0.0, 0.001], exit=[1e-3, 2e-3, 2e-3, 5e-3], event=[1, 1, 0, 1]),
    "huge times": frame(entry=[0, 10**8, 0, 0], exit=[10**9, 10**9, 2 * 10**9, 3 * 10**9], event=[1, 1, 0, 1]),
    "times of every size": frame(exit=[1e-3, 1.0, 1e3, 1e6, 1e9], event=[1, 0, 1, 1, 1]),
    "counts as large as 64 bits": frame(exit=[2**62, 3], event=[1, 1]),
    "empty": frame(exit=[5]).clear(),
    "empty and untyped": pl.DataFrame({name: [] for name in ("entry", "exit", "event", "kind", "car", "why")}),
}


@pytest.mark.parametrize("thin", THIN)
@pytest.mark.parametrize("transform", ["log-log", "log", "plain"])
def test_limits_of_thin_curves_bracket_the_estimate_inside_0_and_1(transform, thin):
    curve = kaplan_meier(THIN[thin], by="kind", transform=transform).drop_nulls()
    assert (curve["lower"] >= 0).all()
    assert (curve["lower"] <= curve["survival"] + 1e-12).all()
    assert (curve["survival"] <= curve["upper"] + 1e-12).all()
    assert (curve["upper"] <= 1).all()


@pytest.mark.parametrize("name", CURVES)
def test_a_group_without_failure_has_no_row_and_the_columns_stay(name):
    none, some = CURVES[name](THIN["no failure"]), CURVES[name](THIN["all failed"])
    assert none.height == 0
    assert none.schema == some.schema


def test_an_ungrouped_empty_frame_still_gets_its_status():
    assert restricted_mean(THIN["empty"], 5).select("units", "mean", "status").row(0) == (0, None, "no finite estimate")
    assert log_rank(THIN["empty"], "kind").select("statistic", "status").row(0) == (None, "too few")


def test_one_failure_among_many_has_a_limit_on_both_sides():
    curve = kaplan_meier(frame(exit=[5] * 9 + [4], event=[0] * 9 + [1]))
    assert curve.select("survival", "lower", "upper").row(0) == pytest.approx((0.9, 0.473009, 0.985281), abs=1e-6)


def test_all_failed_at_one_time_leave_nothing_and_no_error():
    curve = kaplan_meier(THIN["all failed at one time"])
    assert curve.row(0, named=True) == {
        "time": 7,
        "at_risk": 6,
        "events": 6,
        "censored": 0,
        "survival": 0.0,
        "std_error": None,
        "lower": None,
        "upper": None,
    }
