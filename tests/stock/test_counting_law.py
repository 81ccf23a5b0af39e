"""Demand from the moments of its repairs: the three counting laws, sums of unlike units, quantities, several draws."""

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import binom, nbinom, poisson, poisson_binom

from analytics.stock.counting_law import Predictive, Repairs
from analytics.stock.demand import MOST_TOLD, Compound, History

ONE_EACH = np.array([0.0, 1.0])
NOTHING_BESIDE = History(0, 1.0, 0, np.zeros(0, np.int64))
"""No planned repair, because no car is active, and no sale."""

NO_REPAIR = 1e-12


def mass(mean, excess, quantity=ONE_EACH, beside=NOTHING_BESIDE, days=100.0):
    mean, excess = np.atleast_1d(mean).astype(float), np.atleast_1d(excess).astype(float)
    return Predictive(quantity, beside).mass(Repairs(mean, excess, np.full(mean.size, days)))


def test_units_alike_are_the_binomial_of_scipy():
    found = mass(20 * 0.3, -20 * 0.09)
    assert_allclose(found[:21], binom.pmf(np.arange(found.size), 20, 0.3)[:21], atol=2e-8)


def test_no_excess_is_the_poisson_law_of_scipy():
    found = mass(4.2, 0.0)
    assert_allclose(found, poisson.pmf(np.arange(found.size), 4.2), atol=2e-8)


def test_excess_is_the_negative_binomial_of_scipy():
    found = mass(4.0, 4.0)
    assert_allclose(found, nbinom.pmf(np.arange(found.size), 4, 0.5), atol=2e-8)


@pytest.mark.parametrize("seed", range(6))
def test_unlike_units_are_close_to_the_sum_of_their_chances(seed):
    """Against the exact law of scipy; two moments leave a distance of total variation below 0.015."""
    chance = np.random.default_rng(seed).beta(0.7, 4.0, 60)
    found = mass(chance.sum(), -(chance**2).sum())
    exact = poisson_binom.pmf(np.arange(found.size), chance)
    assert np.abs(found - exact).sum() / 2 < 0.015


def test_units_that_surely_fail_are_all_needed():
    found = mass(3.0, -3.0)
    assert found[3] == pytest.approx(1, abs=1e-6)


def test_several_draws_are_averaged():
    several = mass([1.0, 6.0], [0.0, 3.0])
    alone = [mass(1.0, 0.0), mass(6.0, 3.0)]
    padded = [np.pad(one, (0, several.size))[: several.size] for one in alone]
    assert_allclose(several, np.mean(padded, axis=0), atol=3e-8)


def test_planned_work_and_sales_beside_are_those_of_the_pooled_rate():
    beside = History(12, 300.0, 70, np.array([1, 1, 2]), sales=9, sales_years=3.0)
    compound = Compound(beside)
    found = mass(NO_REPAIR, 0.0, compound._quantity, beside, 90.0)
    expected = compound.mass(np.array([90.0]))
    size = min(found.size, expected.size)
    assert_allclose(found[:size], expected[:size], atol=3e-8)


def test_compound_quantities_agree_with_draws():
    rng, n = np.random.default_rng(8), 400_000
    quantity = np.array([0.0, 0.6, 0.3, 0.0, 0.1])
    repairs = rng.binomial(12, 0.4, n)
    taken = rng.choice(quantity.size, p=quantity, size=repairs.sum())
    parts = np.bincount(np.repeat(np.arange(n), repairs), weights=taken, minlength=n).astype(int)
    found = mass(4.8, -12 * 0.16, quantity)
    seen = np.bincount(parts, minlength=found.size)[: found.size] / n
    assert_allclose(found, seen, atol=4 * np.sqrt(0.25 / n))


@example([(1.0, 1.2e-7)], [1.0], 0, 0.0)
@example([(1.0, 3.0)], [1.0], 0, 0.0)
@given(
    st.lists(st.tuples(st.floats(1e-9, 300), st.floats(-1, 3)), min_size=1, max_size=5),
    st.lists(st.floats(0.01, 1), min_size=1, max_size=6),
    st.integers(0, 40),
    st.sampled_from([0.0, 2.0]),
)
def test_it_is_a_distribution_with_the_mean_it_states(laws, weights, planned, sales_years):
    mean = np.array([m for m, _ in laws])
    excess = mean * np.array([bend for _, bend in laws])
    quantity = np.concatenate(([0.0], weights)) / sum(weights)
    beside = History(planned, 100.0, 50, np.array([1]), sales=3, sales_years=sales_years)
    predictive, repairs = Predictive(quantity, beside), Repairs(mean, excess, np.full(mean.size, 200.0))
    found = predictive.mass(repairs)
    assert np.isfinite(found).all()
    assert (found >= 0).all()
    assert found.sum() == pytest.approx(1)
    assert found @ np.arange(found.size) == pytest.approx(predictive.mean(repairs), rel=1e-4, abs=1e-4)


def test_a_demand_beyond_all_telling_stands_in_the_last_place():
    quantity = np.zeros(100_001)
    quantity[100_000] = 1.0
    found = mass(40.0, 0.0, quantity)
    assert found.size == MOST_TOLD + 1
    assert found[-1] > 0.999


def test_each_draw_has_the_lead_time_it_was_given():
    beside = History(40, 100.0, 50, np.array([1]))
    repairs = Repairs(np.full(2, NO_REPAIR), np.zeros(2), np.array([10.0, 300.0]))
    found = Predictive(ONE_EACH, beside).mass(repairs)
    apart = [mass(NO_REPAIR, 0.0, ONE_EACH, beside, days) for days in (10.0, 300.0)]
    expected = sum(np.pad(one, (0, found.size))[: found.size] for one in apart) / 2
    assert_allclose(found, expected, atol=3e-8)


@pytest.mark.parametrize(("level", "spread"), [(0.4, 0.5), (40.0, 0.3), (900.0, 0.25)])
def test_draws_put_together_leave_the_distribution_as_it_is(level, spread):
    """Against every draw by itself: a distance of total variation below 0.001."""
    rng = np.random.default_rng(4)
    mean = level * np.exp(spread * rng.standard_normal(210))
    excess = mean * rng.uniform(-0.1, 0.1, 210)
    found = mass(mean, excess)
    alone = [mass(m, e) for m, e in zip(mean, excess, strict=True)]
    size = max(found.size, *(one.size for one in alone))
    exact = np.mean([np.pad(one, (0, size - one.size)) for one in alone], axis=0)
    assert np.abs(np.pad(found, (0, size - found.size)) - exact).sum() / 2 < 0.001
