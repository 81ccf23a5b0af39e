"""Failing again after a mending, at an age not known: closed cases, a plain second way, a simulation from the law."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.integrate import quad

from analytics.estimators import fails_again_within, fails_within


def again(shape, life, waited, horizon, joined, failed):
    times = np.array([failed], dtype=np.float64).reshape(1, -1)
    return float(fails_again_within([[shape]], [[life]], [waited], [horizon], [joined], times)[0, 0])


@pytest.mark.parametrize("joined", [0.0, 3.0, 40.0, math.inf, math.nan])
@pytest.mark.parametrize("failed", [[], [0.0], [1.0, 2.5], [2.5] * 9])
def test_without_ageing_it_is_the_exponential_law_whatever_happened_before(joined, failed):
    assert again(1.0, 10.0, 2.5, 3.0, joined, failed) == pytest.approx(1 - math.exp(-0.3), rel=1e-9)


def test_of_a_car_seen_since_new_the_age_is_that_of_the_car():
    wanted = 1 - math.exp((4.0 / 6) ** 2.5 - (5.0 / 6) ** 2.5)
    assert again(2.5, 6.0, 4.0, 1.0, 0.0, [1.0, 4.0]) == pytest.approx(wanted, rel=1e-3)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_without_a_failure_it_is_the_law_of_a_unit_met_at_random(shape):
    """Tables of the renewal process, once it has settled: cars of many lives."""
    wanted = float(fails_within(shape, 5.0, 2.0, 0.3, joined_at=60.0))
    assert again(shape, 5.0, 2.0, 0.3, 60.0, []) == pytest.approx(wanted, rel=0.02)


def by_quadrature(shape, life, waited, horizon, joined, failed):
    """The two integrals of the docstring, one point after the other."""

    mean = life * math.gamma(1 + 1 / shape)

    def density(x):
        at = [max(x + u, 1e-4 * mean) / life for u in failed]
        return math.prod(a ** (shape - 1) for a in at) * math.exp(-(((x + waited) / life) ** shape))

    def ahead(x):
        return 1 - math.exp(((x + waited) / life) ** shape - ((x + waited + horizon) / life) ** shape)

    ends = {"points": (joined / 20, joined / 4), "limit": 200}
    below = quad(density, 0, joined, **ends)[0] / mean + density(joined)
    above = quad(lambda x: density(x) * ahead(x), 0, joined, **ends)[0] / mean + density(joined) * ahead(joined)
    return above / below


@settings(max_examples=25)
@given(
    shape=st.floats(0.7, 4.0),
    life=st.floats(500, 6000),
    waited=st.floats(0, 4000),
    joined=st.floats(10, 12_000),
    failed=st.lists(st.floats(0, 1), max_size=4),
)
def test_it_agrees_with_integrals_one_point_after_the_other(shape, life, waited, joined, failed):
    times = [share * waited for share in failed]
    wanted = by_quadrature(shape, life, waited, 90.0, joined, times)
    assert again(shape, life, waited, 90.0, joined, times) == pytest.approx(wanted, rel=0.01, abs=1e-6)


def test_a_unit_that_failed_is_older_than_one_that_did_not_where_parts_age():
    calm, once, twice = (again(3.0, 2000.0, 800.0, 90.0, 9000.0, failed) for failed in ([], [800.0], [300.0, 800.0]))
    assert calm < once < twice
    young, old = (again(0.7, 2000.0, 800.0, 90.0, 9000.0, failed) for failed in ([800.0], []))
    assert young > old


def test_many_units_at_once_are_the_same_as_one_by_one():
    times = np.array([[10.0, np.nan], [20.0, 30.0], [np.nan, np.nan]])
    shape, life = np.array([[1.2, 2.0]] * 3), np.array([[900.0, 800.0]] * 3)
    found = fails_again_within(shape, life, [40.0, 50.0, 60.0], [9.0, 8.0, 7.0], [100.0, np.inf, 300.0], times)
    for row, failed in enumerate(([10.0], [20.0, 30.0], [])):
        for draw in (0, 1):
            told = ([40.0, 50.0, 60.0][row], [9.0, 8.0, 7.0][row], [100.0, math.inf, 300.0][row])
            assert found[row, draw] == pytest.approx(again(shape[row, draw], life[row, draw], *told, failed), rel=1e-4)
    assert fails_again_within(np.empty((0, 4)), np.empty((0, 4)), [], [], [], np.empty((0, 0))).shape == (0, 4)
