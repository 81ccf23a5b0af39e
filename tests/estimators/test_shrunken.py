"""Shrunken ratios: the published pumps, what the guards do, and what false alarms cost."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.errors import SpellError
from analytics.estimators import shrunken_ratio
from tests.estimators.cases import typed

PUMPS = typed("counts")["pumps"]


def test_agrees_with_the_prior_of_the_pumps():
    table = shrunken_ratio(PUMPS["failures"], PUMPS["khours"])
    assert_allclose(table["prior_shape"], PUMPS["alpha"], rtol=PUMPS["rtol"], err_msg=PUMPS["command"])
    assert_allclose(table["prior_rate"], PUMPS["beta"], rtol=PUMPS["rtol"], err_msg=PUMPS["command"])
    means = (table["prior_shape"] + pl.Series(PUMPS["failures"])) / (table["prior_rate"] + pl.Series(PUMPS["khours"]))
    assert_allclose(means, PUMPS["posterior_mean"], rtol=PUMPS["rtol"], err_msg=PUMPS["source"])


def test_shows_median_limits_and_probability_of_the_posterior():
    table = shrunken_ratio(PUMPS["failures"], PUMPS["khours"], confidence=0.90)
    law = stats.gamma(
        PUMPS["alpha"] + np.array(PUMPS["failures"]), scale=1 / (PUMPS["beta"] + np.array(PUMPS["khours"]))
    )
    assert_allclose(table["shrunken_ratio"], law.median(), rtol=1e-5)
    assert_allclose(table["lower"], law.ppf(0.05), rtol=1e-5)
    assert_allclose(table["upper"], law.ppf(0.95), rtol=1e-5)
    assert_allclose(table["probability_above_one"], law.sf(1), rtol=1e-3)


def test_pulls_ratios_together_and_few_events_most():
    table = shrunken_ratio([2, 20, 1, 10, 1, 10], [1.0, 10.0, 1.0, 10.0, 1.0, 10.0])
    assert table["shrunken_ratio"][0] < table["shrunken_ratio"][1] < 2


def test_cells_that_differ_less_than_chance_share_a_prior_no_surer_than_all_their_events():
    table = shrunken_ratio([3] * 8, [3.0] * 8)
    assert_allclose(table["prior_shape"], 24)
    assert_allclose(table["prior_rate"], 24)
    assert table["probability_above_one"].is_between(0.4, 0.6).all()


@pytest.mark.parametrize(("observed", "expected"), [([6], [2.0]), ([6, 0, 1, 2], [2.0] * 4), ([0] * 9, [1.0] * 9)])
def test_fewer_than_five_cells_or_no_event_take_the_weak_prior(observed, expected):
    table = shrunken_ratio(observed, expected)
    assert table.select("prior_shape", "prior_rate").unique().rows() == [(0.5, 0.5)]
    assert_allclose(
        table["shrunken_ratio"],
        stats.gamma.median(0.5 + np.array(observed), scale=1 / 2.5 if 2.0 in expected else 1 / 1.5),
    )


def test_a_cell_where_nothing_was_expected_is_null_and_does_not_move_the_others():
    whole = shrunken_ratio([6, 1, 0, 2, 1, 0], [2.0] * 6)
    with_empty = shrunken_ratio([6, 1, 0, 2, 1, 0, 0, None], [2.0] * 6 + [0.0, 3.0])
    assert with_empty.head(6).equals(whole)
    assert with_empty["status"].to_list()[6:] == ["too few", "too few"]
    assert with_empty["shrunken_ratio"].to_list()[6:] == [None, None]


def test_clean_places_are_rarely_flagged_and_a_true_spot_is_found():
    # 364 orders at 40 places: a false flag is due in 2-5 % of clean fleets; 300 fleets each, fixed seed
    rng = np.random.default_rng(364)
    share = np.full(40, 1 / 40)
    hot = np.where(np.arange(40) == 0, 3.0, 1.0)
    false = found = 0
    for _ in range(300):
        clean = shrunken_ratio(rng.multinomial(364, share), 364 * share)
        false += bool((clean["probability_above_one"] > 0.95).any())
        found += shrunken_ratio(rng.multinomial(364, hot / hot.sum()), 364 * share)["probability_above_one"][0] > 0.95
    assert 0.005 <= false / 300 <= 0.075
    assert found / 300 >= 0.75


def test_refuses_a_negative_expectation():
    with pytest.raises(SpellError, match="expected is not an amount in 1 of 2 rows: row 2"):
        shrunken_ratio([1, 1], [1.0, -2.0])


@pytest.mark.parametrize("observed", [[10**6, 0, 0, 0, 0, 0], [1, 0, 0, 0, 0, 0], [10**6] * 6])
@pytest.mark.parametrize("size", [1e-3, 1e9])
def test_extreme_counts_and_expectations_stay_finite(observed, size):
    table = shrunken_ratio(observed, [size] * 6)
    assert np.isfinite(table.drop("status").to_numpy()).all()
    assert (table["lower"] <= table["shrunken_ratio"]).all()
    assert (table["shrunken_ratio"] <= table["upper"]).all()
