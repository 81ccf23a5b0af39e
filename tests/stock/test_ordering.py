"""Classical stock answers against published cases and scipy."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import norm, poisson

from analytics.stock import economic_quantity, newsvendor, poisson_binomial, poisson_stock


def rounded(law, size):
    """Chances of whole demands nearest to a continuous law."""
    edges = np.arange(-0.5, size)
    mass = np.diff(law.cdf(edges))
    return mass / mass.sum()


def test_macs_newsstand_stocks_fifteen():
    """Nahmias, Mac's newsstand: Normal demand of mean 11.73, sd 4.74, costs 0.50 and 0.15 (from memory): 15."""
    assert newsvendor(rounded(norm(11.73, 4.74), 60), 0.50, 0.15) == 15


def test_the_uniform_case_of_price_seven_and_cost_five_stocks_fifty_nine():
    """Encyclopaedia example, from memory: demand uniform on 50 to 80, price 7, cost 5: 58.57, rounded up."""
    mass = np.zeros(81)
    mass[51:] = 1 / 30
    assert newsvendor(mass, 7 - 5, 5) == 59


@given(st.lists(st.integers(1, 100), min_size=1, max_size=20), st.floats(0.01, 50), st.floats(0.01, 50))
def test_no_other_quantity_costs_less_on_average(weights, underage, overage):
    mass = np.array(weights) / sum(weights)
    demand = np.arange(mass.size)
    cost = [
        mass @ (underage * np.maximum(demand - k, 0) + overage * np.maximum(k - demand, 0)) for k in range(mass.size)
    ]
    assert cost[newsvendor(mass, underage, overage)] == pytest.approx(min(cost))


def test_the_lot_size_of_harris():
    """Harris (1913): 1,000 a month, $2 a set-up, $0.10 a piece at 10 % a year: printed 2,190 (2,190.89)."""
    assert economic_quantity(1000 * 12, 2.0, 0.10 * 0.10 / 2) == pytest.approx(2190.8902300 * math.sqrt(2))
    assert economic_quantity(1000 * 12, 2.0, 0.10 * 0.10) == pytest.approx(2190.8902300)


def test_unlike_chances_add_up_as_in_r():
    """R PoissonBinomial 1.2.5, p = .1, .2, .3, .4, .5."""
    assert_allclose(
        poisson_binomial([0.1, 0.2, 0.3, 0.4, 0.5]), [0.1512, 0.3714, 0.3274, 0.1274, 0.0214, 0.0012], atol=1e-12
    )


def test_no_unit_needs_nothing():
    assert poisson_binomial([]).tolist() == [1.0]


@given(st.floats(0, 500), st.floats(0.01, 0.999))
def test_the_stock_is_the_smallest_that_is_enough(mean, level):
    found = poisson_stock(mean, level)
    assert poisson.cdf(found, mean) >= level - 1e-12
    assert found == 0 or poisson.cdf(found - 1, mean) < level


def test_the_panel_of_mil_hdbk_338b():
    """MIL-HDBK-338B (1998), 5.3.5: rate 0.001 an hour, 500 hours; two spares are enough in 98.6 of 100 cases."""
    assert poisson.cdf(2, 0.5) == pytest.approx(0.986, abs=0.0006)
    assert poisson_stock(0.5, 0.98) == 2


@pytest.mark.parametrize(
    ("call", "words"),
    [
        (lambda: newsvendor([0.5, 0.6], 1, 1), "sum to 1"),
        (lambda: newsvendor([1.0], 0, 0), "not both 0"),
        (lambda: newsvendor([1.0], float("nan"), 1), "finite"),
        (lambda: economic_quantity(1, 1, 0), "holding_cost above 0"),
        (lambda: poisson_binomial([1.2]), "from 0 to 1"),
        (lambda: poisson_stock(-1, 0.9), "mean must be"),
        (lambda: poisson_stock(1, 1.0), "below 1"),
    ],
)
def test_what_makes_no_sense_is_refused_in_words(call, words):
    with pytest.raises(ValueError, match=words):
        call()
