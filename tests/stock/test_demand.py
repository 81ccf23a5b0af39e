"""The pooled rate's demand distribution: closed forms, draws, properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import nbinom

from analytics.stock.demand import History, demand_distribution, lead_times, quantile, quantity_frequencies

YEAR = 365.25


def one_each(repairs, car_years, cars):
    """A history whose quantity law is 1 but for the stated prior repair."""
    return History(repairs, car_years, cars, np.ones(repairs, dtype=np.int64))


def test_without_a_quantity_it_is_the_negative_binomial_of_scipy(monkeypatch):
    monkeypatch.setattr("analytics.stock.demand.quantity_frequencies", lambda _: np.array([0.0, 1.0]))
    mass = demand_distribution(History(12, 300.0, 70, np.ones(12, dtype=np.int64)), np.array([YEAR / 2]))
    expected = nbinom.pmf(np.arange(mass.size), 12.5, 300 / (300 + 35))
    assert_allclose(mass, expected, atol=2e-9)


def test_compound_quantities_agree_with_draws():
    rng = np.random.default_rng(7)
    quantities = np.array([1, 1, 1, 2, 2, 4])
    history = History(6, 200.0, 90, quantities, sales=9, sales_years=3.0)
    mass = demand_distribution(history, np.array([90.0]))
    n = 400_000
    years = 90 / YEAR
    repairs = rng.poisson(rng.gamma(6.5, 1 / 200, n) * 90 * years)
    law = quantity_frequencies(quantities)
    drawn = rng.choice(law.size, p=law, size=repairs.sum())
    parts = np.bincount(np.repeat(np.arange(n), repairs), weights=drawn, minlength=n)
    parts += rng.poisson(rng.gamma(9.5, 1 / 3, n) * years)
    seen = np.bincount(parts.astype(int), minlength=mass.size)[: mass.size] / n
    assert_allclose(mass, seen, atol=4 * np.sqrt(0.25 / n))


@given(
    st.integers(0, 60),
    st.floats(0.5, 2000),
    st.integers(0, 400),
    st.lists(st.integers(1, 12), max_size=20),
    st.lists(st.floats(0, 1500), min_size=1, max_size=4),
)
def test_it_is_a_distribution_whatever_the_history(repairs, car_years, cars, quantities, horizons):
    history = History(repairs, car_years, cars, np.array(quantities, dtype=np.int64))
    mass = demand_distribution(history, np.array(horizons))
    assert np.isfinite(mass).all()
    assert (mass >= 0).all()
    assert mass.sum() == pytest.approx(1)
    assert quantile(mass, 0.5) <= quantile(mass, 0.9) <= mass.size


def test_a_longer_horizon_needs_no_fewer_parts():
    history = one_each(8, 250.0, 60)
    points = [quantile(demand_distribution(history, np.array([d])), 0.9) for d in (0.0, 30.0, 180.0, 720.0)]
    assert points == sorted(points)
    assert points[0] == 0


def test_no_exposure_gives_no_rate():
    with pytest.raises(ValueError, match="car_years"):
        demand_distribution(History(0, 0.0, 5, np.zeros(0, dtype=np.int64)), np.array([30.0]))


def test_lead_times_have_the_stated_median_and_p90():
    days = lead_times(60.0, 200.0)
    assert np.median(days) == pytest.approx(60.0)
    assert np.mean(days <= 200.0) == pytest.approx(0.9, abs=1 / 15)
    assert lead_times(60.0, None).tolist() == [60.0]


def test_fifteen_lead_times_are_enough(monkeypatch):
    history = one_each(30, 400.0, 120)
    coarse = demand_distribution(history, lead_times(60.0, 200.0) + 30)
    monkeypatch.setattr("analytics.stock.demand.LEAD_TIME_POINTS", 60)
    fine = demand_distribution(history, lead_times(60.0, 200.0) + 30)
    n = min(coarse.size, fine.size)
    assert np.abs(coarse[:n] - fine[:n]).max() < 0.003
