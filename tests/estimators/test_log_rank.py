"""The log-rank test: published statistics, weights, groups that never meet."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import log_rank
from analytics.estimators.log_rank import compare
from analytics.estimators.spells_in import spells_in
from tests.estimators.cases import spells, typed

CASES = typed("comparisons")
SIX = CASES["six_mp_weights"]
PATIENTS = spells(exit=SIX["exit"], event=SIX["event"], kind=SIX["group"])


@pytest.mark.parametrize("weights", ["none", "gehan", "tarone-ware", "peto"])
def test_agrees_with_the_cited_statistic(weights):
    result = log_rank(PATIENTS, "kind", weights)
    assert_allclose(result["statistic"][0], SIX[weights.replace("-", "_")], rtol=1e-6, err_msg=SIX["source"])
    assert result.select("df", "groups", "events", "status").row(0) == (1, 2, 30, "ok")


def test_agrees_with_the_cited_p_value():
    assert_allclose(log_rank(PATIENTS, "kind")["p_value"][0], SIX["p_value"], atol=5e-8)
    case = CASES["tiny"]
    tiny = log_rank(spells(exit=case["exit"], event=case["event"], kind=case["group"]), "kind")
    assert_allclose(tiny.select("statistic", "p_value").row(0), (case["statistic"], case["p_value"]), atol=1e-6)


def test_agrees_with_the_cited_observed_and_expected():
    result = compare(spells_in(PATIENTS, "kind"), "none")
    assert_allclose(result.observed, SIX["observed"])
    assert_allclose(result.expected, SIX["expected"], rtol=1e-6, err_msg=SIX["source"])
    assert_allclose(result.covariance, SIX["variance"] * np.array([[1, -1], [-1, 1]]), rtol=1e-6)


def test_expected_failures_add_up_to_the_observed_ones():
    rng = np.random.default_rng(11)
    frame = pl.DataFrame({"kind": rng.integers(0, 6, 300), "entry": rng.integers(0, 30, 300)}).with_columns(
        exit=pl.col("entry") + pl.Series(rng.integers(1, 40, 300)), event=pl.Series(rng.integers(0, 2, 300))
    )
    for weights in ("none", "gehan", "tarone-ware", "peto"):
        result = compare(spells_in(frame, "kind"), weights)
        assert_allclose(result.observed.sum(), result.expected.sum())
        assert_allclose(result.covariance.sum(axis=0), 0, atol=1e-6 * np.abs(result.covariance).max())
    assert log_rank(frame, "kind")["df"][0] == 5


def test_groups_that_are_never_watched_together_are_not_compared():
    early, late = spells(exit=[3, 4], kind=["a", "a"]), spells(entry=10, exit=[13, 14], kind=["b", "b"])
    result = log_rank(pl.concat([early, late]), "kind")
    assert result.select("statistic", "df", "p_value", "status").row(0) == (None, None, None, "too few")


def test_a_group_nobody_of_which_is_at_risk_at_a_failure_costs_no_degree():
    frame = spells(exit=[3, 5, 4, 6, 1], event=[1, 1, 1, 1, 0], kind=["a", "a", "b", "b", "c"])
    with_third, without = log_rank(frame, "kind"), log_rank(frame.filter(pl.col("kind") != "c"), "kind")
    assert with_third["df"][0] == 1
    assert_allclose(with_third["statistic"], without["statistic"])


def test_refuses_unknown_weights_and_names_those_there_are():
    with pytest.raises(ValueError, match="none, gehan, tarone-ware, peto"):
        log_rank(PATIENTS, "kind", "fleming")
