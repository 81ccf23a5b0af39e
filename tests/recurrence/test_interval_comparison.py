"""Two series, or two positions, against each other: counts, ratio, limits and what chance alone would do."""

from functools import partial
from itertools import combinations, product

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analytics.estimators.seeds import generator
from analytics.parameters import Parameters
from analytics.recurrence.comparison import MOST_LEVELS
from analytics.recurrence.dealt_out import STAGES, difference
from analytics.recurrence.interval_comparison import interval_comparisons
from analytics.recurrence.two_groups import Sides, groups_of
from tests.slow_twin.two_groups import distance, expected_less
from tests.truth.interval_fleets import frames

YEAR = 365


def row(car, series, position, failed, begin=7300, finish=10_950):
    return (car, series, "hose", position, begin, finish, list(failed))


def compared(*rows):
    return interval_comparisons(*frames(rows), Parameters())


def groups(cars, stratum=None):
    """Return the groups of cars given as (begin, finish, whether of the second, ages of failure)."""
    begin, finish, second = (
        np.array([each[k] for each in cars], dtype=kind) for k, kind in enumerate((float, float, bool))
    )
    car = np.array([k for k, each in enumerate(cars) for _ in each[3]], dtype=np.int64)
    age = np.array([at for each in cars for at in each[3]], dtype=np.float64)
    return groups_of(begin, finish, second, np.array(stratum or [0] * len(cars)), (car, age))


def p_of(two):
    draw = two.swapped if isinstance(two, Sides) else two.dealt
    return difference(two.apart, partial(draw, rng=generator("a test")), two.counts, 1, 0.90).p_value


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


@pytest.mark.parametrize("seed", range(4))
def test_the_ratio_of_independent_failures_has_nearly_the_exact_limits_of_a_general_library(seed):
    """All failures given, those of B are binomial: scipy.stats.binomtest, exact, 90 %, hence a little wider."""
    rng = np.random.default_rng(seed)
    found = compared(*series_of(rng.poisson(1.5, 60), rng.poisson(3.0, 60))).row(0, named=True)
    a, b = found["failures_a"], found["failures_b"]
    limits = stats.binomtest(b, a + b).proportion_ci(0.90, method="exact")
    exact = np.log([limits.low / (1 - limits.low), limits.high / (1 - limits.high)])
    assert np.log([found["lower"], found["upper"]]) == pytest.approx(exact, abs=0.25 * (exact[1] - exact[0]) / 2)
    assert found["rate_ratio"] == pytest.approx(b / a, rel=0.05)


@pytest.mark.parametrize("seed", range(12))
def test_limits_leave_out_1_exactly_where_the_p_value_says_so(seed):
    rng = np.random.default_rng(seed)
    counts = rng.poisson(rng.gamma(1, 2, 10)), rng.poisson(rng.gamma(1, 3.5, 12))
    sides = np.array([rng.poisson(1.0, 15), rng.poisson(1.6, 15)]).T
    for found in (compared(*series_of(*counts)), compared(*positions(*sides.tolist()))):
        one = found.row(0, named=True)
        outside = not (one["lower"] <= 1 <= (one["upper"] or np.inf))
        assert outside == (one["p_value"] < 0.10)
        assert one["lower"] <= one["rate_ratio"] <= (one["upper"] or np.inf)


def test_cars_that_differ_widen_the_limits():
    even, uneven = compared(*series_of([2] * 8, [4] * 8)), compared(*series_of([2] * 8, [9, 9, 9, 5, 0, 0, 0, 0]))
    width = [float((found["upper"] / found["lower"])[0]) for found in (even, uneven)]
    assert width[1] > 1.2 * width[0]


def test_ages_at_which_one_series_alone_joined_are_left_out():
    young = [row(f"y{k}", "B", "only", [1000 + k, 2000 + k], begin=400, finish=3000) for k in range(5)]
    both = series_of([1, 0, 1, 0], [3, 2, 2, 1])
    assert compared(*both, *young).drop("p_value", "adjusted_p").equals(compared(*both).drop("p_value", "adjusted_p"))
    assert compared(*young).is_empty()


def test_counts_are_those_of_each_series_whatever_the_ages_on_joining():
    # the bands of age on joining lie across the order of the cars' names
    old = [row(f"B{k}", "B", "only", [12_000 + k] * 3, begin=11_000, finish=14_000) for k in range(0, 6, 2)]
    old += [row(f"A{k}", "A", "only", [12_500 + k], begin=11_000, finish=14_000) for k in range(0, 6, 2)]
    young = [row(f"B{k}", "B", "only", [8000 + k] * 2, begin=7305, finish=9000) for k in range(1, 6, 2)]
    young += [row(f"A{k}", "A", "only", [], begin=7305, finish=9000) for k in range(1, 6, 2)]
    found = compared(*old, *young).row(0, named=True)
    assert (found["failures_a"], found["failures_b"], found["vehicles_a"], found["vehicles_b"]) == (3, 15, 6, 6)


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
    assert (one["vehicles_a"], one["vehicles_b"]) == (4, 4)
    assert one["rate_ratio"] == pytest.approx(4.0)


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


def every_way(cars, second):
    """Return the distances between two series for each way of dealing the cars out, by a plain loop."""
    ways = []
    for chosen in combinations(range(len(cars)), second):
        dealt = [(begin, finish, k in chosen, failed) for k, (begin, finish, _, failed) in enumerate(cars)]
        ways.append(distance(cars, dealt))
    return np.array(ways)


@pytest.mark.parametrize("seed", range(3))
def test_cars_dealt_out_agree_with_every_way_of_dealing_them(seed):
    rng = np.random.default_rng(seed)
    cars = [(0, 9, k < 4, sorted(rng.uniform(0, 9, rng.poisson(1 + 2 * (k < 4))))) for k in range(9)]
    exact = np.mean(np.abs(every_way(cars, 4)) >= abs(distance(cars, cars)) - 1e-9)
    found = p_of(groups(cars))
    # 999 draws or more
    assert found == pytest.approx(exact, abs=4 * np.sqrt(exact * (1 - exact) / 999) + 0.002)


def test_cars_change_places_within_their_stratum_only():
    cars = [(0, 9, True, [1, 2, 3, 7, 8]), (0, 9, True, [4, 5]), (0, 9, False, []), (0, 9, False, [6])]
    apart = groups(cars, [0, 1, 1, 0]).dealt(200, generator(1))
    # two ways in each of two strata, against six of all four
    assert len(np.unique(apart.round(9))) == 4
    assert len(np.unique(groups(cars).dealt(500, generator(1)).round(9))) == 6


def test_sides_swapped_agree_with_every_way_of_swapping_them():
    two = Sides(np.array([0.0, 1, 0, 1, 2, 0, 1, 0]), np.array([3.0, 2, 2, 1, 1, 2, 2, 1]))
    half = (two.second - two.first) / 2
    totals = np.array(list(product([-1, 1], repeat=8))) @ half
    spread = np.maximum((np.sum(half**2) - totals**2 / 8) * 8 / 7, sum(two.counts) / 4)
    exact = np.mean(np.abs(totals / np.sqrt(spread)) >= abs(two.apart(np.ones(1))[0]) - 1e-9)
    assert p_of(two) == pytest.approx(exact, abs=4 * np.sqrt(exact / 999) + 0.002)


def test_the_least_chance_told_is_that_of_all_draws():
    assert p_of(Sides(np.zeros(40), np.full(40, 2.0))) == 1 / (sum(STAGES) + 1)


CARS = st.lists(
    st.tuples(st.integers(0, 6), st.integers(1, 6), st.booleans(), st.sets(st.integers(1, 6))), min_size=2, max_size=7
)


@given(CARS, st.sampled_from([0.5, 1.0, 3.0]))
def test_contributions_are_those_of_a_plain_loop(drawn, ratio):
    cars = [
        (begin, begin + length, second, sorted(begin + at for at in failed if at <= length))
        for begin, length, second, failed in drawn
    ]
    if not any(each[3] for each in cars) or len({each[2] for each in cars}) < 2:
        return
    two = groups(cars)
    assert two.values(np.array([ratio]))[0].tolist() == pytest.approx(expected_less(cars, ratio))
    assert two.off(ratio) == pytest.approx(
        sum(v for v, c in zip(expected_less(cars, ratio), cars, strict=True) if c[2])
    )


@given(st.lists(st.tuples(st.integers(0, 3), st.integers(0, 3)), min_size=3, max_size=9))
def test_sides_turned_round_turn_the_ratio_round(pairs):
    first, second = np.array(pairs, dtype=np.float64).T
    ratios = np.array([0.5, 1.0, 3.0])
    assert Sides(first, second).apart(ratios) == pytest.approx(-Sides(second, first).apart(1 / ratios))
