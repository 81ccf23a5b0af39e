"""How often the stated limits hold, in fleets simulated from a known law.

A few of the cells of `tests.truth.life_limits`, which runs them all and says where the bands come from. Here 400 fleets
a cell, fixed seeds: the Monte Carlo error of a coverage is 0.011 at 0.95 and 0.015 at 0.90.
"""

import numpy as np
import polars as pl
import pytest

from tests.truth.life_limits import (
    CELL,
    KNOWN,
    OLD_CARS,
    SOME_UNKNOWN,
    by_rule,
    coverage,
    few_failed,
    likelihood_ratio_coverage,
    limits_of,
    log_error,
    median_errors,
    of_families,
    simulated,
)

pytestmark = pytest.mark.truth

FLEETS = 400


@pytest.mark.parametrize(("shape", "expected"), [(0.8, 1), (1.2, 15), (1.8, 4), (3.5, 4), (3.5, 15)])
def test_limits_hold_where_ages_are_known(shape, expected):
    models, truth = limits_of(simulated(shape, expected, KNOWN, 1, FLEETS), shape)
    for name, true in truth.items():
        both, lower, upper = coverage(models.filter(pl.col("failures") > 0), name, true)
        assert both >= CELL[KNOWN].both, name
        assert lower >= CELL[KNOWN].lower, name
        assert upper >= CELL[KNOWN].upper, name


@pytest.mark.parametrize(("shape", "expected"), [(0.8, 4), (3.5, 15)])
def test_limits_hold_where_seven_ages_in_ten_are_unknown(shape, expected):
    models, truth = limits_of(simulated(shape, expected, SOME_UNKNOWN, 1, FLEETS), shape)
    for name, true in truth.items():
        both, lower, upper = coverage(models.filter(pl.col("failures") > 0), name, true)
        assert both >= CELL[SOME_UNKNOWN].both, name
        assert lower >= CELL[SOME_UNKNOWN].lower, name
        assert upper >= CELL[SOME_UNKNOWN].upper, name


@pytest.mark.parametrize("known_share", CELL)
@pytest.mark.parametrize("shape", [0.8, 3.5])
def test_the_lower_limit_holds_also_where_nothing_has_failed_yet(shape, known_share):
    models, truth = limits_of(simulated(shape, 1, known_share, 2, FLEETS), shape)
    assert (models["failures"] == 0).mean() > 0.2
    for name, true in truth.items():
        assert (models[name + "_lower"] <= true).mean() >= CELL[known_share].lower, name


@pytest.mark.parametrize("shape", [0.8, 1.8, 3.5])
def test_control_likelihood_ratio_limits_fail_where_ages_are_unknown(shape):
    # a test of coverage that cannot tell a poor method from a good one would be worth nothing
    found = likelihood_ratio_coverage(simulated(shape, 4, SOME_UNKNOWN, 5, FLEETS), shape)
    assert max(found) < 0.88


@pytest.mark.parametrize(("shape", "life", "positions"), OLD_CARS, ids=str)
def test_the_renewal_likelihood_finds_the_median_life(shape, life, positions):
    # 100 fleets: the Monte Carlo error of the mean log ratio is 0.009, 0.021 and 0.019; the target is 5 %
    error, as_new = median_errors(shape, life, positions, 100, np.random.default_rng(11))
    assert error.size >= 95
    assert abs(error.mean()) < 0.05
    assert np.sqrt((error**2).mean()) < {3.0: 0.13, 2.0: 0.28, 1.3: 0.26}[shape]
    assert as_new.mean() < -0.12, "treated as new they look short-lived"


@pytest.mark.parametrize("known_share", CELL)
def test_a_family_tells_more_than_a_few_failures_of_ones_own(known_share):
    few = few_failed(*of_families(np.random.default_rng(3), 40, 10, 8, known_share=known_share))
    assert few.height > 200
    assert log_error(few, "life50_pooled") <= 0.8 * log_error(few, "life50")
    held = (few["life50_lower_pooled"].log() <= few["truth"]) & (few["life50_upper_pooled"].log() >= few["truth"])
    assert 0.87 <= held.mean() <= 0.97


def test_limits_by_the_number_of_failures_hold_for_members_of_a_family_in_which_one_is_odd():
    # 30 families of 12: the Monte Carlo error of the coverage is 0.015
    ordinary, odd = by_rule(*of_families(np.random.default_rng(4), 30, 12, 8, odd=1))
    assert ordinary.height > 200
    assert set(ordinary["basis"]) == {"own", "family"}
    assert 0.89 <= ordinary["held"].mean() <= 0.97
    assert odd["held"].mean() < ordinary["held"].mean(), "an odd member with few failures cannot be known"
