"""The cumulative hazard: published values, agreement with the product-limit curve."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import kaplan_meier, nelson_aalen
from tests.estimators.cases import spells, typed

CASES = typed("hazard_and_late_entry")


def test_agrees_with_the_cited_hazard_and_its_error():
    case = CASES["six_mp"]
    curve = nelson_aalen(spells(exit=case["exit"], event=case["event"]))
    assert curve["time"].to_list() == case["time"]
    assert_allclose(curve["cumulative_hazard"], case["cumulative_hazard"], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(curve["std_error"], case["std_error"], rtol=case["rtol"], err_msg=case["command"])
    assert_allclose(curve["cumulative_hazard"], case["printed_hazard"], atol=case["printed_atol"])


def test_agrees_with_the_cited_hazard_under_late_entry():
    case = CASES["late_entry"]
    curve = nelson_aalen(spells(entry=case["entry"], exit=case["exit"], event=case["event"]))
    assert_allclose(curve["cumulative_hazard"], case["cumulative_hazard"], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(curve["std_error"], case["std_error_hazard"], rtol=case["rtol"], err_msg=case["command"])


def test_limits_are_on_the_log_scale():
    curve = nelson_aalen(spells(exit=[3, 4, 4, 9], event=[1, 1, 0, 1]), confidence=0.90)
    assert_allclose(np.sqrt(curve["lower"] * curve["upper"]), curve["cumulative_hazard"])
    half = np.log(curve["upper"] / curve["cumulative_hazard"]) * curve["cumulative_hazard"] / curve["std_error"]
    assert_allclose(half, 1.6448536269514722)  # 95 % point of the standard normal


@given(st.integers(20, 60), st.integers(0, 1000))
def test_minus_log_of_the_survival_is_close_to_the_hazard_while_many_are_at_risk(units, seed):
    rng = np.random.default_rng(seed)
    frame = spells(exit=rng.permutation(units * 10)[:units].tolist(), entry=-1)
    hazard, survival = nelson_aalen(frame), kaplan_meier(frame)
    early = hazard["at_risk"].to_numpy() >= 10
    # -log(1 - x) - x is below x^2 for x <= 1/2, and 1/n^2 summed from n = 10 on is below 1/9
    gap = -np.log(survival["survival"].to_numpy()[early]) - hazard["cumulative_hazard"].to_numpy()[early]
    assert np.all((gap > 0) & (gap < 1 / 9))
