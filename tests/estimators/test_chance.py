"""Counts that chance gives under laws known only as draws: other libraries, a plain second way, refusals."""

import math
import statistics

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import stats

from analytics.errors import SpellError
from analytics.estimators import by_chance

MEANS = st.lists(st.floats(0, 12), min_size=1, max_size=5)


@pytest.mark.parametrize("confidence", [0.8, 0.9, 0.95])
@pytest.mark.parametrize("mean", [0.02, 0.4, 3.0, 47.0, 1900.0])
def test_under_one_law_it_is_scipy_s_poisson(mean, confidence):
    seen = [0, 1, 2, 5, 60]
    table = by_chance(seen, [[mean]] * len(seen), confidence)
    tail = (1 - confidence) / 2
    assert table["lower"].to_list() == [stats.poisson.ppf(tail, mean)] * len(seen)
    assert table["upper"].to_list() == [stats.poisson.ppf(1 - tail, mean)] * len(seen)
    assert_allclose(table["p_value"], stats.poisson.sf(np.array(seen) - 1, mean), rtol=1e-9)


@pytest.mark.parametrize(("shape", "scale"), [(0.7, 2.0), (2.5, 0.7), (30.0, 1.5)])
def test_with_means_from_a_gamma_law_it_is_scipy_s_negative_binomial(shape, scale):
    means = stats.gamma.ppf((np.arange(20_000) + 0.5) / 20_000, shape, scale=scale)
    seen = np.arange(8)
    table = by_chance(seen, np.tile(means, (8, 1)), 0.90)
    law = stats.nbinom(shape, 1 / (1 + scale))
    assert_allclose(table["p_value"], law.sf(seen - 1), rtol=2e-3)
    assert table.select("lower", "upper").row(0) == (law.ppf(0.05), law.ppf(0.95))


def at_most(k, means):
    """Add up the terms of each law, one after the other."""
    return sum(math.exp(-m) * sum(m**j / math.factorial(j) for j in range(k + 1)) for m in means) / len(means)


@settings(max_examples=60)
@given(st.integers(0, 30), MEANS)
def test_it_agrees_with_sums_in_plain_python_and_its_limits_with_its_p_value(seen, means):
    row = by_chance([seen], [means], 0.90).row(0, named=True)
    assert row["expected"] == pytest.approx(statistics.median(means))
    assert row["p_value"] == pytest.approx(1 - at_most(seen - 1, means), abs=1e-12)
    for limit, share in ((row["lower"], 0.05), (row["upper"], 0.95)):
        assert at_most(limit, means) >= share - 1e-12
        assert limit == 0 or at_most(limit - 1, means) < share + 1e-12
    if abs(row["p_value"] - 0.05) > 1e-9:
        assert (seen > row["upper"]) == (row["p_value"] < 0.05)


def test_without_a_count_there_is_no_row_and_without_a_mean_nothing_is_expected():
    assert by_chance([], np.empty((0, 4))).height == 0
    assert by_chance([0, 1], [[0.0], [0.0]]).rows() == [(0.0, 0, 0, 1.0), (0.0, 0, 0, 0.0)]


@pytest.mark.parametrize("seen", [-1, 0.5, float("nan"), float("inf")])
def test_what_is_no_count_is_refused_with_its_row(seen):
    with pytest.raises(SpellError, match="observed is not a count"):
        by_chance([2, seen], [[1.0], [1.0]])


@pytest.mark.parametrize("mean", [-0.1, float("nan"), float("inf")])
def test_what_is_no_mean_is_refused(mean):
    with pytest.raises(SpellError, match="a mean is not an amount"):
        by_chance([2, 3], [[1.0], [mean]])


@pytest.mark.parametrize("means", [[1.0, 2.0], [[], []], [[1.0]]])
def test_means_of_another_shape_are_refused(means):
    with pytest.raises(ValueError, match="a row per count and at least one draw"):
        by_chance([2, 3], means)


def test_a_confidence_outside_zero_and_one_is_refused():
    with pytest.raises(ValueError, match="strictly between 0 and 1"):
        by_chance([1], [[1.0]], 1.0)


def test_the_frame_is_typed():
    assert by_chance([1], [[1.0]]).schema == {
        "expected": pl.Float64,
        "lower": pl.Int64,
        "upper": pl.Int64,
        "p_value": pl.Float64,
    }
