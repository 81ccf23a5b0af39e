"""Goodness of fit of complete lives, and the age of planned replacement."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from analytics.estimators import goodness_of_fit, replacement_age
from tests.estimators.cases import shared_case, spells


def test_agrees_with_the_ball_bearings():
    # case ad_weibull_ball_bearings: A squared over the fitted law, also by scipy.stats.goodness_of_fit (0.328509)
    expected, table = shared_case("ad_weibull_ball_bearings")
    fit = goodness_of_fit(table.select(entry=pl.lit(0.0), exit="megacycles", event=pl.lit(1))).row(0, named=True)
    assert_allclose(fit["statistic"], expected["A2"], rtol=1e-5)
    assert_allclose(fit["adjusted_statistic"], expected["A2_star"], rtol=1e-5)
    assert_allclose(fit["p_value"], expected["OSL_mil17"], rtol=1e-4)
    assert fit["status"] == "ok"


def test_two_clumps_of_lives_are_no_weibull_law():
    rng = np.random.default_rng(4)
    clumps = np.concatenate([rng.normal(10, 0.5, 30), rng.normal(100, 3, 30)])
    frame = pl.concat(
        [
            spells(exit=clumps.tolist()).with_columns(kind=pl.lit("clumps")),
            spells(exit=(50 * rng.weibull(2, 60)).tolist()).with_columns(kind=pl.lit("weibull")),
        ]
    )
    p_value = dict(goodness_of_fit(frame, by="kind").select("kind", "p_value").iter_rows())
    assert p_value["clumps"] < 1e-4
    assert p_value["weibull"] > 0.1


@pytest.mark.parametrize(
    ("frame", "status"),
    [
        (spells(exit=[3, 5, 9], event=[1, 1, 0]), "not complete"),
        (spells(entry=[0, 1, 0], exit=[3, 5, 9]), "not complete"),
        (spells(exit=[3, 5, 9], exit_lower=[2, 4, 8]), "not complete"),
        (spells(exit=[3]), "too few"),
        (spells(exit=[3, 3, 3]), "no finite estimate"),
    ],
)
def test_lives_that_are_not_complete_are_not_tested(frame, status):
    assert goodness_of_fit(frame).select("statistic", "p_value", "status").row(0) == (None, None, status)


def test_agrees_with_a_published_replacement_age():
    # documentation of the library reliability, "Optimal replacement time": 493.19 at 0.0035 (its grid search);
    # exact 493.04696 at 0.003462043 by R integrate and optimize
    policy = replacement_age(2.5, 1000, 5).row(0, named=True)
    assert_allclose(policy["age"], 493.19, atol=0.2)
    assert_allclose(policy["cost_rate"], 0.0035, atol=5e-5)
    assert_allclose(policy["age"], 493.04695943719514, rtol=1e-6)
    assert_allclose(policy["cost_rate"], 0.0034620427387821915, rtol=1e-9)


@pytest.mark.parametrize(("shape", "life", "ratio"), [(1.4, 30.0, 8.0), (3.0, 9000.0, 2.0), (8.0, 1.0, 50.0)])
def test_no_other_age_is_cheaper(shape, life, ratio):
    def cost(age):
        failed = -np.expm1(-((age / life) ** shape))
        return (1 + (ratio - 1) * failed) / quad(lambda t: np.exp(-((t / life) ** shape)), 0, age)[0]

    policy = replacement_age(shape, life, ratio).row(0, named=True)
    best = minimize_scalar(cost, bounds=(0.01 * life, 3 * life), method="bounded", options={"xatol": 1e-9 * life})
    assert_allclose(policy["cost_rate"], best.fun, rtol=1e-8)
    assert_allclose(policy["age"], best.x, rtol=1e-3)
    assert policy["cost_rate"] < policy["cost_rate_unplanned"]


def test_parts_that_do_not_wear_out_are_never_replaced_before_they_fail():
    policies = replacement_age([0.8, 1.0, 2.0, 2.0], 100, [5, 5, 1, 0.5])
    assert policies["status"].to_list() == ["never"] * 4
    assert policies["age"].null_count() == 4
    assert policies["cost_rate"].equals(policies["cost_rate_unplanned"].rename("cost_rate"))


def test_what_is_not_above_nothing_is_refused():
    with pytest.raises(ValueError, match="cost_ratio must be above 0"):
        replacement_age(2.0, 100, 0)
    with pytest.raises(ValueError, match="life must be above 0 and finite"):
        replacement_age(2.0, [100, np.nan], 3)
