"""The same figures from R's survival and from scikit-survival, on random lives with ties, late entry, one failure.

The lives are in tests/reference/lives_with_ties.csv; the values beside them, with the script that wrote each file.
"""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import (
    cumulative_incidence,
    fit_weibull,
    kaplan_meier,
    log_rank,
    mean_cumulative_function,
    nelson_aalen,
    restricted_mean,
)
from tests.estimators.cases import ROOT, typed

R = typed("values_by_r")
SKSURV = typed("values_by_scikit_survival")
LIVES = pl.read_csv(ROOT / "tests" / "reference" / "lives_with_ties.csv")
FLEETS = LIVES["fleet"].unique(maintain_order=True).to_list()
SEVERAL = [fleet for fleet in FLEETS if fleet != "single failure"]


def lives(fleet):
    return LIVES.filter(pl.col("fleet") == fleet)


def from_new(fleet):
    return lives(fleet).with_columns(entry=pl.lit(0))


def column(frame, name):
    """A column with NaN for null, as R has it."""
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


@pytest.mark.parametrize("fleet", FLEETS)
@pytest.mark.parametrize("transform", ["log-log", "log", "plain"])
def test_product_limit_curves_errors_and_limits_agree_with_r(fleet, transform):
    case, curve = R[fleet]["curve"], kaplan_meier(lives(fleet), transform=transform)
    assert curve["time"].to_list() == case["time"]
    assert curve["at_risk"].to_list() == case["at_risk"]
    kind = transform.replace("-", "_")
    for name, wanted in {"survival": "survival", "lower": f"{kind}_lower", "upper": f"{kind}_upper"}.items():
        assert_allclose(column(curve, name), case[wanted], rtol=1e-10, atol=1e-12, err_msg=case["command"])
    assert_allclose(column(curve, "std_error"), case["std_error"], rtol=1e-10)


@pytest.mark.parametrize("fleet", FLEETS)
def test_cumulative_hazards_agree_with_r(fleet):
    case, curve = R[fleet]["curve"], nelson_aalen(lives(fleet))
    assert_allclose(curve["cumulative_hazard"], case["cumulative_hazard"], rtol=1e-10)
    assert_allclose(curve["std_error"], case["std_error_hazard"], rtol=1e-10)


@pytest.mark.parametrize("fleet", FLEETS)
def test_mean_counts_with_errors_clustered_by_car_agree_with_r(fleet):
    case, curve = R[fleet]["counts"], mean_cumulative_function(lives(fleet), cluster="car")
    assert curve["time"].to_list() == case["time"]
    assert_allclose(curve["mcf"], case["mcf"], rtol=1e-10, err_msg=case["command"])
    assert_allclose(curve["std_error"], case["std_error"], rtol=1e-9, err_msg=case["command"])


@pytest.mark.parametrize("fleet", FLEETS)
def test_restricted_means_agree_with_r(fleet):
    case = R[fleet]["restricted"]
    result = restricted_mean(from_new(fleet), case["horizon"][0])
    assert_allclose(result["mean"], case["mean"], rtol=1e-10, err_msg=case["command"])
    assert_allclose(result["std_error"], case["std_error"], rtol=1e-10, err_msg=case["command"])


@pytest.mark.parametrize("fleet", FLEETS)
def test_incidences_of_tied_causes_agree_with_r(fleet):
    case = R[fleet]["causes"]
    late, new = (cumulative_incidence(frame, "why") for frame in (lives(fleet), from_new(fleet)))
    for cause in late["cause"].unique():
        here, there = (frame.filter(pl.col("cause") == cause) for frame in (late, new))
        assert here["time"].to_list() == case["time"]
        assert_allclose(here["incidence"], case[cause], rtol=1e-10, err_msg=case["command"])
        assert_allclose(there["incidence"], case[f"{cause}_from_new"], rtol=1e-10)
        assert_allclose(there["std_error"], case[f"{cause}_std_error_from_new"], rtol=1e-9, atol=1e-9)


@pytest.mark.parametrize("fleet", FLEETS)
def test_log_rank_statistics_agree_with_r_also_with_late_entry(fleet):
    case = R[fleet]["test"]
    assert_allclose(log_rank(lives(fleet), "kind")["statistic"], case["late_entry"], rtol=1e-9, err_msg=case["command"])
    assert_allclose(log_rank(from_new(fleet), "kind")["statistic"], case["from_new"], rtol=1e-9)


@pytest.mark.parametrize("fleet", SEVERAL)
def test_weibull_fits_of_exact_and_of_inspected_lives_agree_with_r(fleet):
    # every third failure is known to lie in (exit / 2, exit], every third only before its exit
    case, frame = R[fleet]["weibull"], from_new(fleet)
    third = pl.when(pl.col("event") == 1).then(pl.col("event").cum_sum() % 3)
    inspected = frame.with_columns(exit_lower=pl.when(third == 1).then(pl.col("exit") / 2).when(third == 2).then(0.0))
    for name, rows in (("exact", frame), ("inspected", inspected)):
        fit = fit_weibull(rows).select("life", "shape", "log_likelihood").row(0)
        assert_allclose(fit, case[name], rtol=1e-5, err_msg=case["command"])


@pytest.mark.parametrize("fleet", FLEETS)
def test_curves_agree_with_scikit_survival(fleet):
    case, curve = SKSURV[fleet], kaplan_meier(lives(fleet))
    assert_allclose(curve["survival"], case["survival_late_entry"], rtol=1e-10, atol=1e-12)
    alive = curve["survival"].to_numpy() > 0
    for side in ("lower", "upper"):
        assert_allclose(column(curve, side)[alive], np.array(case[f"{side}_late_entry"])[alive], rtol=1e-9)
    hazard = nelson_aalen(from_new(fleet))["cumulative_hazard"]
    assert_allclose(hazard, case["cumulative_hazard"], rtol=1e-10)


@pytest.mark.parametrize("fleet", SEVERAL)
def test_log_rank_tests_agree_with_scikit_survival(fleet):
    result = log_rank(from_new(fleet), "kind")
    assert_allclose(result.select("statistic", "p_value").row(0), SKSURV[fleet]["log_rank"], rtol=1e-8)


@pytest.mark.parametrize("fleet", SEVERAL)
@pytest.mark.parametrize("cause", ["leak", "wear"])
def test_incidences_agree_with_scikit_survival(fleet, cause):
    curve = cumulative_incidence(from_new(fleet), "why").filter(pl.col("cause") == cause)
    assert_allclose(curve["incidence"], SKSURV[fleet][f"{cause}_from_new"], rtol=1e-10)
