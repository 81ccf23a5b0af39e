"""Croston's method, SBA and TSB against published and measured values."""

import tomllib
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import poisson

from analytics.stock import croston, croston_sba, tsb
from analytics.stock.intermittent import moving_average, poisson_mass

DEMANDS = {2: 2, 4: 1, 6: 11, 11: 2, 13: 6, 14: 3, 20: 7, 28: 3, 29: 1, 32: 1, 34: 1}
PRODUCT_C = [DEMANDS.get(month, 0) for month in range(1, 37)]
"""Hyndman and Athanasopoulos, Forecasting: Principles and Practice, 2nd ed., 12.2: 36 months of product C."""


def test_product_c_by_croston_as_printed_and_as_r_and_statsforecast_have_it():
    """Printed 0.985 (from memory); R 4.2.2 forecast 8.20 ``croston(x, alpha = .1)`` and statsforecast 2.1.1."""
    assert croston(PRODUCT_C, 0.1) == pytest.approx(0.985, abs=0.0006)
    assert croston(PRODUCT_C, 0.1) == pytest.approx(0.9845965, rel=1e-6)
    assert croston(PRODUCT_C, 0.2) == pytest.approx(0.8484116621755469, rel=1e-6)


def test_product_c_by_sba_as_statsforecast_has_it():
    """statsforecast 2.1.1: ``CrostonSBA().forecast(numpy.array(PRODUCT_C, float), h=1)["mean"][0]``."""
    assert croston_sba(PRODUCT_C, 0.1) == pytest.approx(0.935366695, rel=1e-6)


def stored():
    """Thin series of demand with the forecasts that statsforecast makes of them: values_by_statsforecast.py."""
    text = (Path(__file__).parents[1] / "reference" / "values_by_statsforecast.toml").read_text(encoding="utf-8")
    return tomllib.loads(text)["series"]


@pytest.mark.parametrize(
    "known", stored(), ids=lambda known: f"{len(known['demand'])} months, {sum(known['demand'])} parts"
)
def test_thin_series_are_foretold_as_statsforecast_does(known):
    assert croston(known["demand"], 0.1) == pytest.approx(known["croston"], rel=1e-9)
    assert croston_sba(known["demand"], 0.1) == pytest.approx(known["sba"], rel=1e-9)
    for size_share, chance_share, expected in known["tsb"]:
        assert tsb(known["demand"], size_share, chance_share) == pytest.approx(expected, rel=1e-9)


def plain_tsb(demand, size_share, chance_share):
    """The recursion as Teunter, Syntetos and Babai (2011) write it, one period after another."""
    size = next((value for value in demand if value > 0), None)
    if size is None:
        return 0.0
    chance, started = None, False
    for value in demand:
        happened = float(value > 0)
        chance = happened if chance is None else chance + chance_share * (happened - chance)
        if value > 0:
            size = value if not started else size + size_share * (value - size)
            started = True
    return chance * size


SERIES = st.lists(st.one_of(st.just(0), st.integers(0, 40)), max_size=60)
SHARE = st.floats(0.01, 1.0)


@given(SERIES, SHARE, SHARE)
def test_tsb_is_its_recursion(demand, size_share, chance_share):
    assert tsb(demand, size_share, chance_share) == pytest.approx(plain_tsb(demand, size_share, chance_share))


@given(SERIES, SHARE)
def test_every_history_has_a_finite_forecast_however_thin(demand, share):
    for found in (croston(demand, share), croston_sba(demand, share), tsb(demand, share, share)):
        assert np.isfinite(found)
        assert found >= 0
    if not any(demand):
        assert croston(demand, share) == tsb(demand, share) == 0


def test_tsb_falls_with_every_period_without_demand_and_croston_does_not():
    """What TSB was made for: a part that is no longer asked for."""
    ended = [2, 0, 2, 0, 2, *[0] * 30]
    assert tsb(ended) < 0.05 * tsb(ended[:5])
    assert croston(ended) == croston(ended[:5])


def test_sba_takes_half_of_alpha_off():
    assert croston_sba(PRODUCT_C, 0.3) == pytest.approx(0.85 * croston(PRODUCT_C, 0.3))


def test_a_moving_average_sees_the_last_periods_only():
    assert moving_average([9, 9, 1, 2], 2) == 1.5
    assert moving_average([], 3) == 0


def test_poisson_bounds_are_those_of_scipy():
    mass = poisson_mass(3.7)
    assert_allclose(mass, poisson.pmf(np.arange(mass.size), 3.7), atol=2e-9)
    assert mass.sum() == pytest.approx(1)
    assert poisson_mass(0.0)[0] > 0.98


@pytest.mark.parametrize("demand", [[-1, 2], [float("nan")], [[1, 2]], [float("inf")]])
def test_a_demand_that_is_none_is_refused(demand):
    for method in (croston, croston_sba, tsb, lambda d: moving_average(d, 1)):
        with pytest.raises(ValueError, match="demand must be"):
            method(demand)


@pytest.mark.parametrize("share", [0, -0.1, 1.1, float("nan")])
def test_a_share_outside_its_range_is_refused_by_name(share):
    with pytest.raises(ValueError, match="alpha must"):
        croston([1], share)
    with pytest.raises(ValueError, match="alpha_probability must"):
        tsb([1], 0.1, share)
    with pytest.raises(ValueError, match="periods must"):
        moving_average([1], 0)
