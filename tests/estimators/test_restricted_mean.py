"""The mean up to a horizon: published means and errors, horizons nobody reached."""

import pytest
from numpy.testing import assert_allclose

from analytics.estimators import restricted_mean
from tests.estimators.cases import spells, typed

CASE = typed("comparisons")["restricted_mean"]
PATIENTS = spells(exit=CASE["exit"], event=CASE["event"], kind=CASE["group"])


@pytest.mark.parametrize("index", range(3))
def test_agrees_with_the_cited_means_and_errors(index):
    result = restricted_mean(PATIENTS, CASE["horizon"][index], by="kind")
    wanted = [[CASE[f"{kind}{what}"][index] for what in ("", "_se")] for kind in ("maintained", "not_maintained")]
    assert_allclose(result.select("mean", "std_error").to_numpy(), wanted, rtol=CASE["rtol"], err_msg=CASE["command"])
    assert result["status"].to_list() == ["ok", "ok"]


def test_limits_stay_between_0_and_the_horizon():
    # z x 0.26 above 11.73 would pass 12
    result = restricted_mean(PATIENTS, 12, by="kind", confidence=0.99)
    assert result["upper"][0] == 12
    assert_allclose(result["lower"][1], CASE["not_maintained"][0] - 2.5758293035489 * CASE["not_maintained_se"][0])


def test_a_horizon_nobody_reached_gives_no_mean():
    result = restricted_mean(PATIENTS, 162, by="kind")
    # the longest maintained patient was followed to 161; the other curve ended at 45
    assert result["status"].to_list() == ["no finite estimate", "ok"]
    assert result["mean"].is_null().to_list() == [True, False]
    assert restricted_mean(PATIENTS, 161, by="kind")["status"].to_list() == ["ok", "ok"]


def test_without_a_failure_the_mean_is_the_horizon_and_its_error_unknown():
    result = restricted_mean(spells(exit=[10, 20, 30], event=[0, 0, 1]), 15)
    assert result.drop("units", "events").row(0) == (15.0, None, None, None, "too few")
    assert result.select("units", "events").row(0) == (3, 0)


def test_a_curve_that_fell_to_0_before_others_entered_gives_no_mean():
    result = restricted_mean(spells(entry=[0, 4], exit=[3, 9]), 8)
    assert result.select("mean", "status").row(0) == (None, "no finite estimate")


def test_a_failure_at_the_horizon_takes_no_area():
    at, after = (restricted_mean(spells(exit=[8, last]), 10) for last in (10, 11))
    assert at["mean"][0] == after["mean"][0] == 9.0
    assert at["std_error"][0] == after["std_error"][0]


@pytest.mark.parametrize("horizon", [0, -3, float("inf"), float("nan")])
def test_refuses_a_horizon_that_is_not_a_length(horizon):
    with pytest.raises(ValueError, match="horizon must be a positive number"):
        restricted_mean(PATIENTS, horizon)
