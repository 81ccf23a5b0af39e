"""The pooled rate's demand distribution: closed forms, draws, properties."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import nbinom

from analytics.stock.demand import (
    MOST_TOLD,
    Compound,
    History,
    lead_times,
    quantile,
    quantity_frequencies,
)

YEAR = 365.25


def demand_distribution(history, horizon_days):
    return Compound(history).mass(horizon_days)


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


@given(
    st.integers(0, 40),
    st.integers(1, 60),
    st.lists(st.integers(1, 40), min_size=1, max_size=8),
    st.sampled_from([0.0, 3.0]),
    st.lists(st.floats(1, 900), min_size=1, max_size=3),
)
def test_a_capped_distribution_is_the_whole_one_with_its_tail_in_the_last_place(
    repairs, cars, quantities, sales_years, horizons
):
    history = History(repairs, 120.0, cars, np.array(quantities), sales=7, sales_years=sales_years)
    whole = demand_distribution(history, np.array(horizons))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr("analytics.stock.demand.MOST_TOLD", 15)
        capped = demand_distribution(history, np.array(horizons))
    assert capped.size <= 16
    assert capped.sum() == pytest.approx(1)
    expected = np.pad(whole, (0, 16))
    short = capped[: min(capped.size, 15)]
    assert_allclose(short, expected[: short.size], atol=3e-8)
    if capped.size == 16:
        assert capped[15] == pytest.approx(expected[15:].sum(), abs=3e-7)


def test_one_huge_quantity_leaves_mean_and_quantiles_as_the_distribution_has_them():
    """With 1.5 repairs of 40 car-years and 8 cars, chances of no repair and of none that is huge by hand."""
    history = History(1, 40.0, 8, np.array([10_000]))
    horizon = np.array([30.0])
    mass, exposure = demand_distribution(history, horizon), 8 * 30 / YEAR
    assert mass[0] == pytest.approx((40 / (40 + exposure)) ** 1.5)
    assert mass[:10_000].sum() == pytest.approx((40 / (40 + exposure / 2)) ** 1.5, abs=1e-6)
    mean = Compound(history).mean(horizon)
    assert mean == pytest.approx(1.5 * exposure / 40 * (10_000 + 1.2) / 2)
    assert mass @ np.arange(mass.size) == pytest.approx(mean, rel=1e-5)
    assert quantile(mass, 0.9) == 0
    assert mean > 100
    assert quantile(mass, 0.99) == 10_000


def test_the_mean_needs_no_cap_and_what_lies_beyond_the_cap_stands_in_the_last_place():
    history = History(500, 40.0, 8, np.full(500, 1000))
    horizon = np.array([730.0])
    mass = demand_distribution(history, horizon)
    assert mass.size == MOST_TOLD + 1
    assert mass[-1] > 0.999
    assert quantile(mass, 0.5) == MOST_TOLD
    assert Compound(history).mean(horizon) == pytest.approx(500.5 * 8 * 730 / YEAR / 40 * (500_000 + 1.2) / 501)


@given(st.integers(1, 300), st.floats(1, 4000), st.integers(0, 900), st.integers(1, 100_000), st.floats(0, 5e3))
def test_mean_and_mass_agree_wherever_nothing_is_capped(repairs, car_years, cars, largest, days):
    history = History(repairs, car_years, cars, np.array([1] * (repairs - 1) + [largest]))
    compound, horizon = Compound(history), np.array([days])
    mass = compound.mass(horizon)
    assert np.isfinite(mass).all()
    if mass.size <= MOST_TOLD:
        assert mass @ np.arange(mass.size) == pytest.approx(compound.mean(horizon), rel=1e-4, abs=1e-3)


@pytest.mark.parametrize(
    ("quantities", "told"),
    [([10_000, 1, 1, 1], 10_000), ([40, 40, 40], None), ([4], None), ([30, *[1] * 40], None), ([], None)],
)
def test_a_repair_that_makes_most_of_the_demand_is_told(quantities, told):
    history = History(len(quantities), 40.0, 8, np.array(quantities, dtype=np.int64))
    assert Compound(history).one_repair_makes_most(np.array([30.0])) == told


def test_a_large_quantity_beside_larger_counter_sales_makes_no_more_than_its_part():
    history = History(2, 40.0, 8, np.array([100, 1]), sales=3000, sales_years=3.0)
    assert Compound(history).one_repair_makes_most(np.array([30.0])) is None


@pytest.mark.parametrize("level", [0.9, 1 - 1e-9, 1 - 1e-16, 1.0])
def test_every_level_of_service_has_a_finite_answer(level):
    mass = demand_distribution(one_each(8, 250.0, 60), np.array([90.0]))
    assert quantile(mass, level) <= mass.size - 1
