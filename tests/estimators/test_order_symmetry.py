"""Which comes first: the exact test against a general library, the calendar's share, counts of followers."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.stats import binomtest

from analytics.errors import SpellError
from analytics.estimators import order_symmetry
from analytics.estimators.order_symmetry import DAYS_AT_ONCE, followers, null_share


@given(st.integers(0, 60), st.integers(0, 60), st.floats(0.02, 0.98))
def test_p_value_is_that_of_the_one_sided_binomial_test(ahead, behind, expected):
    p = order_symmetry(ahead, behind, expected)["p_value"][0]
    known = binomtest(ahead, ahead + behind, expected, alternative="greater").pvalue if ahead + behind else 1.0
    assert_allclose(p, known, rtol=1e-9)


def test_both_orders_together_count_the_cars_seen_twice():
    # P(X >= x) + P(Y >= n - x) = 1 + P(X = x), by hand for 11 and 2: 1 + 78 / 8192
    both = order_symmetry([11, 2], [2, 11])["p_value"]
    assert both.sum() == pytest.approx(1 + 78 / 2**13, rel=1e-12)


def test_without_cars_nothing_is_told():
    assert order_symmetry(0, 0).row(0) == (None, 1.0)


@pytest.mark.parametrize("share", [0.0, 1.0, -0.2, float("nan")])
def test_refuses_an_expected_share_that_no_calendar_gives(share):
    with pytest.raises(SpellError, match="null_share is not between 0 and 1 in 1 of 2 rows: row 2"):
        order_symmetry([1, 2], [1, 2], [0.5, share])


def test_refuses_what_is_no_count():
    with pytest.raises(SpellError, match="then_first"):
        order_symmetry([1], [-1])


def test_a_season_moves_the_share_and_few_pairs_do_not():
    assert_allclose(null_share(np.array([900.0]), np.array([100.0]), 10.0), 0.8922, atol=1e-4)
    assert_allclose(null_share(np.array([3.0]), np.array([0.0]), 10.0), 13 / 23)
    assert null_share(np.array([3.0]), np.array([0.0]), 10.0) + null_share(np.array([0.0]), np.array([3.0]), 10.0) == 1


EVENTS = st.lists(st.tuples(st.integers(0, 3), st.integers(-500, 4000)), max_size=60)


@given(EVENTS, st.integers(1, 200))
def test_followers_are_those_of_a_plain_count(events, window):
    counted = np.zeros((4, 4), int)
    for kind, day in events:
        for other, later in events:
            counted[kind, other] += 0 < later - day <= window
    kind, day = (np.array([each[k] for each in events], dtype=np.int64) for k in (0, 1))
    assert followers(kind, day, 4, window).tolist() == counted.tolist()


def test_followers_across_the_days_that_are_counted_at_once():
    day = np.array([0, DAYS_AT_ONCE - 1, DAYS_AT_ONCE, 40 * DAYS_AT_ONCE, 40 * DAYS_AT_ONCE + 120], dtype=np.int64)
    assert followers(np.arange(5), day, 5, 120)[[1, 3], [2, 4]].tolist() == [1, 1]
    assert followers(np.arange(5), day, 5, 120).sum() == 2
    assert followers(np.zeros(0, np.int64), np.zeros(0, np.int64), 3, 120).sum() == 0


def test_takes_columns_as_well_as_numbers():
    table = order_symmetry(pl.Series([11, 3]), pl.Series([2, 3]))
    assert table["share"].round(3).to_list() == [0.846, 0.5]
