"""Two series, or two positions, against each other: counts, ratio, limits and what chance alone would do."""

from itertools import product

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analytics.estimators.seeds import generator
from analytics.parameters import Parameters
from analytics.recurrence.dealt_out import ENOUGH, STAGES, cars_dealt_out, sides_swapped
from analytics.recurrence.interval_comparison import MOST_LEVELS, interval_comparisons
from analytics.recurrence.two_groups import at_one_age, within_cars
from tests.slow_twin.two_groups import mantel_haenszel
from tests.truth.interval_fleets import frames

YEAR = 365


def row(car, series, position, failed, begin=7300, finish=10_950):
    return (car, series, "hose", position, begin, finish, list(failed))


def compared(*rows):
    return interval_comparisons(*frames(rows), Parameters())


def series_of(a, b, **more):
    """Cars of two series with so many failures each, a year apart."""
    return [
        row(f"{name}{k}", name, "only", [7300 + 10 * k + YEAR * (n + 1) for n in range(count)], **more)
        for name, counts in (("A", a), ("B", b))
        for k, count in enumerate(counts)
    ]


def test_two_series_are_compared_by_failures_of_cars_of_one_age():
    found = compared(*series_of([1, 0, 1, 0], [3, 2, 2, 1])).row(0, named=True)
    assert (found["grouping"], found["level_a"], found["level_b"]) == ("series", "A", "B")
    assert (found["failures_a"], found["failures_b"], found["vehicles_a"], found["vehicles_b"]) == (2, 8, 4, 4)
    assert found["rate_ratio"] == pytest.approx(4.0)
    assert found["lower"] < 4.0 < found["upper"]
    assert found["status"] == "ok"


def test_limits_without_more_spread_than_chance_are_the_exact_ones_of_a_general_library():
    """All failures given, those of B are binomial: scipy.stats.binomtest, exact, 90 %."""
    found = compared(*series_of([2] * 8, [4] * 8)).row(0, named=True)
    limits = stats.binomtest(32, 48).proportion_ci(0.90, method="exact")
    assert (found["lower"], found["upper"]) == pytest.approx(
        [limits.low / (1 - limits.low), limits.high / (1 - limits.high)], rel=0.06
    )


def test_cars_that_differ_widen_the_limits():
    even, uneven = compared(*series_of([2] * 8, [4] * 8)), compared(*series_of([2] * 8, [9, 9, 9, 5, 0, 0, 0, 0]))
    width = [float((found["upper"] / found["lower"])[0]) for found in (even, uneven)]
    assert width[1] > 1.2 * width[0]


def test_ages_at_which_one_series_alone_joined_are_left_out():
    young = [row(f"y{k}", "B", "only", [1000 + k, 2000 + k], begin=400, finish=3000) for k in range(5)]
    both = series_of([1, 0, 1, 0], [3, 2, 2, 1])
    assert compared(*both, *young).drop("p_value", "adjusted_p").equals(compared(*both).drop("p_value", "adjusted_p"))
    assert compared(*young).is_empty()


def test_too_few_failures_give_counts_and_no_numbers():
    found = compared(*series_of([1, 0], [2, 1])).row(0, named=True)
    assert (found["failures_a"], found["failures_b"], found["status"]) == (1, 3, "too few")
    assert found["rate_ratio"] is found["lower"] is found["p_value"] is found["adjusted_p"] is None


def test_failures_at_ages_at_which_the_other_series_was_never_watched_compare_nothing():
    early = [row(f"A{k}", "A", "only", [7400 + k, 7500 + k], begin=7305, finish=8000) for k in range(4)]
    late = [row(f"B{k}", "B", "only", [9000 + k, 9500 + k], begin=8500, finish=10_000) for k in range(4)]
    found = compared(*early, *late).row(0, named=True)
    assert (found["failures_a"], found["failures_b"], found["status"]) == (8, 8, "too few")
    assert found["rate_ratio"] is found["p_value"] is None


def test_a_series_that_never_failed_gives_one_limit():
    found = compared(*series_of([0] * 6, [2, 1, 2, 1, 0, 1])).row(0, named=True)
    assert found["status"] == "upper open"
    assert found["lower"] > 1.5
    assert found["rate_ratio"] is found["upper"] is None
    turned = compared(*series_of([2, 1, 2, 1, 0, 1], [0] * 6)).row(0, named=True)
    assert (turned["status"], turned["rate_ratio"], turned["lower"]) == ("bound only", 0.0, 0.0)


def positions(*pairs):
    return [
        row(f"c{k}", "A", side, [7300 + 10 * k + YEAR * (n + 1) for n in range(count)])
        for k, both in enumerate(pairs)
        for side, count in zip(("left", "right"), both, strict=True)
    ]


def test_two_positions_are_compared_within_the_cars_that_have_both():
    lone = row("lone", "A", "left", [8000, 8400, 9000])
    found = compared(*positions((1, 3), (0, 2), (1, 1), (0, 2)), lone).filter(pl.col("grouping") == "position")
    one = found.row(0, named=True)
    assert (one["level_a"], one["level_b"], one["failures_a"], one["failures_b"]) == ("left", "right", 2, 8)
    assert (one["vehicles_a"], one["vehicles_b"], one["rate_ratio"]) == (4, 4, 4.0)


def test_rule_35_a_position_that_was_filled_in_counts_for_neither():
    faults, watch = frames(positions((1, 3), (0, 2), (1, 1), (0, 2)))
    filled = faults.with_columns(position_stated=pl.col("position") == "left")
    found = interval_comparisons(filled, watch, Parameters()).filter(pl.col("grouping") == "position")
    assert found.select("failures_a", "failures_b").row(0) == (2, 0)


def test_of_many_positions_those_with_most_failures_are_compared():
    many = [row("c", "A", f"p{k:02d}", [8000 + k] * (k > 2)) for k in range(MOST_LEVELS + 3)]
    found = compared(*many)
    assert found.height == MOST_LEVELS * (MOST_LEVELS - 1) // 2
    assert "p00" not in {*found["level_a"], *found["level_b"]}


def test_the_same_analysis_gives_the_same_chances():
    rows = series_of([1, 0, 1, 0], [3, 2, 2, 1])
    assert compared(*rows).equals(compared(*reversed(rows)))


@pytest.mark.parametrize("seed", range(3))
def test_cars_dealt_out_agree_with_every_way_of_dealing_them(seed):
    """scipy.stats.permutation_test, exact over all 252 ways."""
    rng = np.random.default_rng(seed)
    value, second = rng.normal(size=10), np.arange(10) < 5
    value[second] += 0.8

    def off(first, others, axis):
        return np.abs(first.sum(axis=axis) - others.sum(axis=axis))

    both = (value[second], value[~second])
    exact = stats.permutation_test(both, off, alternative="greater", vectorized=True).pvalue
    found = cars_dealt_out(value, second, np.zeros(10, dtype=np.int64), generator(seed))
    assert found == pytest.approx(exact, abs=5 * np.sqrt(exact / ENOUGH) * np.sqrt(exact) + 0.002)


def test_cars_change_places_within_their_stratum_only():
    value, second = np.array([5.0, 5.0, 0.0, 0.0]), np.array([True, True, False, False])
    assert cars_dealt_out(value, second, np.array([0, 0, 1, 1]), generator(1)) == 1.0
    # 6 ways of dealing, of which two are as far off
    assert cars_dealt_out(value, second, np.zeros(4, dtype=np.int64), generator(1)) == pytest.approx(1 / 3, abs=0.25)


def test_sides_swapped_agree_with_every_way_of_swapping_them():
    difference = np.array([3.0, 1.0, 2.0, 0.0, -1.0, 2.0, 1.0, 1.0])
    signs = np.array(list(product([-1, 1], repeat=7)))
    exact = (np.abs(signs @ difference[difference != 0]) >= 9).mean()
    found = sides_swapped(difference, generator("swapped"))
    assert found == pytest.approx(exact, rel=4 / np.sqrt(ENOUGH))
    assert sides_swapped(np.full(40, 2.0), generator(1)) == 1 / (sum(STAGES) + 1)
    assert sides_swapped(np.zeros(3), generator(1)) == 1.0


CARS = st.lists(
    st.tuples(st.integers(0, 6), st.integers(1, 6), st.booleans(), st.sets(st.integers(1, 6))), min_size=2, max_size=7
)


@given(CARS)
def test_ratio_and_contributions_are_those_of_a_plain_loop(cars):
    rows = [
        (begin, begin + length, second, sorted(begin + at for at in failed if at <= length))
        for begin, length, second, failed in cars
    ]
    begin, finish, second = (np.array(column) for column in list(zip(*rows, strict=True))[:3])
    failed = [(car, at) for car, each in enumerate(rows) for at in each[3]]
    if not failed:
        return
    car, age = (np.array(column) for column in zip(*failed, strict=True))
    found = at_one_age(begin.astype(float), finish.astype(float), second, (car, age.astype(float)))
    ratio, value = mantel_haenszel(rows)
    assert found.value.tolist() == pytest.approx(value)
    assert found.ratio == pytest.approx(ratio)
    assert found.wider >= 1


def test_sides_of_a_car_that_differ_by_chance_alone_are_not_widened():
    assert within_cars(np.array([1.0, 0.0]), np.array([0.0, 1.0])).wider == 1.0
    assert within_cars(np.array([6.0, 0.0]), np.array([0.0, 6.0])).wider == pytest.approx(np.sqrt(6))
