"""The last batch: renewals over many years against closed forms and draws, the regret table by hand."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.stock.demand import Compound, History
from analytics.stock.renewals import renewals
from analytics.stock.supply_end import Ahead, batches, demand_ahead, demand_at_rate
from tests.stock.test_installed_base import LIFE, SHAPE, YEAR, care, demand, streams

STEPS = np.arange(1, 41)[:, None] / 2
"""Twenty years in half-years."""


def test_without_wear_renewals_are_a_poisson_count_of_cars_that_leave():
    """Rate 1/8, leaving at 0.1 a year: (1 - exp(-0.1 t)) / 0.8 failures (Cox 1962)."""
    fails = -np.expm1(-STEPS / 8)
    stays = np.exp(-0.1 * (STEPS - 0.25))
    assert_allclose(renewals(fails, fails, stays).mean, -np.expm1(-0.1 * STEPS) / 0.8, rtol=2e-3)
    everlasting = renewals(fails, fails, np.ones((40, 1)))
    assert_allclose(everlasting.mean, STEPS / 8, rtol=1e-3)
    assert_allclose(everlasting.pairs[9:], (STEPS / 8)[9:] ** 2, rtol=0.06)


@pytest.mark.parametrize("shape", [0.8, 1.5, 3.0])
def test_renewals_of_parts_that_wear_agree_with_draws(shape):
    """Life 6 years, unit in place 4 years old, leaving at 0.08 a year; 200,000 positions, seed 9."""

    def law(t):
        return (t / 6.0) ** shape

    in_place, new = -np.expm1(law(4.0) - law(4.0 + STEPS)), -np.expm1(-law(STEPS))
    found = renewals(in_place, new, np.exp(-0.08 * (STEPS - 0.25)))
    rng, n = np.random.default_rng(9), 200_000
    leaves = rng.exponential(1 / 0.08, n)
    time = 6.0 * (law(4.0) + rng.exponential(size=n)) ** (1 / shape) - 4.0
    count = np.zeros(n)
    for _ in range(60):
        count += (time <= leaves) & (time <= 20)
        time = time + 6.0 * rng.weibull(shape, n)
    assert found.mean[-1, 0] == pytest.approx(count.mean(), rel=0.015)
    assert found.pairs[-1, 0] == pytest.approx((count * (count - 1)).mean(), rel=0.06)


def point(*demands):
    """A demand that is certain."""
    masses = []
    for parts in demands:
        mass = np.zeros(max(demands) + 1)
        mass[parts] = 1.0
        masses.append(mass)
    return tuple(masses)


def test_the_regret_table_of_a_certain_demand_by_hand():
    """Ten parts a year for three years: 30. Of a batch of 20 beside 3 held, 23 are used by the third year."""
    ahead = Ahead((1.0, 2.0, 3.0), point(10, 20, 30))
    none, twenty, forty = batches(ahead, [0, 20, 40], held=3.0)
    assert (none.p_enough, none.expected_unmet, none.expected_left) == (0.0, 27.0, 0.0)
    assert (twenty.p_enough, twenty.expected_unmet, twenty.expected_left) == (0.0, 7.0, 0.0)
    assert (forty.p_enough, forty.expected_unmet, forty.expected_left) == (1.0, 0.0, 13.0)
    assert forty.runs_out == (None, None, None)
    assert twenty.runs_out == pytest.approx((2.1, 2.5, 2.9))


@given(
    st.lists(st.lists(st.integers(1, 50), min_size=1, max_size=30), min_size=1, max_size=5),
    st.lists(st.integers(0, 60), min_size=2, max_size=4, unique=True),
    st.integers(0, 10),
)
def test_a_larger_batch_is_enough_more_often_and_leaves_more_over(weights, compared, held):
    masses = tuple(np.array(w) / sum(w) for w in weights)
    ahead = Ahead(tuple(float(n + 1) for n in range(len(masses))), masses)
    rows = batches(ahead, sorted(compared), held)
    last = masses[-1] @ np.arange(masses[-1].size)
    for row in rows:
        assert 0 <= row.p_enough <= 1 + 1e-12
        # what is held and bought is used, or left over
        used = last - row.expected_unmet
        assert used + row.expected_left == pytest.approx(row.batch + held)
        told = [year for year in row.runs_out if year is not None]
        assert told == sorted(told)
    for less, more in pairwise(rows):
        assert less.p_enough <= more.p_enough + 1e-12
        assert less.expected_unmet >= more.expected_unmet - 1e-12
        assert less.expected_left <= more.expected_left + 1e-12


def test_where_cars_leave_less_is_needed_in_ten_years():
    ages = np.linspace(1, 9, 30) * YEAR
    staying = care(np.arange(30), ages, np.ones(30))
    leaving = care(np.arange(30), ages, np.ones(30), left=(1.5e8, 1e9))
    means = [mass @ np.arange(mass.size) for one in (staying, leaving) for mass in [ahead_of(one).masses[-1]]]
    # renewals of Weibull units in the long run: one in a mean life of 7.14 years
    assert means[0] == pytest.approx(30 * 10 / 7.14, rel=0.08)
    assert means[1] < 0.6 * means[0]


def ahead_of(installed):
    return demand_ahead(demand(installed, streams()), {}, 10)


def test_the_first_year_agrees_with_the_forecast_of_a_year():
    installed = care(np.arange(30), np.linspace(1, 9, 30) * YEAR, np.ones(30))
    one = demand(installed)
    year = one.by_stream(np.full((1, 210), YEAR)).failing
    ahead = demand_ahead(one, {30.0: np.array([1.0])}, 2)
    assert ahead.years == (30 / YEAR, 1.0, 2.0)
    assert ahead.masses[1] @ np.arange(ahead.masses[1].size) == pytest.approx(year, rel=0.03)


def test_a_rate_stays_as_it_is():
    compound = Compound(History(20, 100.0, 30, np.ones(20, np.int64)))
    means = [
        mass @ np.arange(mass.size)
        for mass in demand_at_rate(lambda days: compound.mass(np.array([days])), {}, 4).masses
    ]
    assert means[3] == pytest.approx(4 * means[0], rel=1e-3)


def test_the_life_of_the_example_is_as_stated():
    assert pytest.approx(7.14, abs=0.01) == LIFE * 0.8930 / YEAR  # gamma(1 + 1/3), Abramowitz and Stegun 6.1
    assert SHAPE == 3.0
