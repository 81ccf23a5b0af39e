"""Which cars are still in care: missed visits, against a plain twin and a simulation."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.parameters import Parameters
from analytics.stock.presence import Presence, presence, seen_until

YEAR = 365.25
NEVER = np.inf


def plain_missed(visits, day):
    """z of each car, counted one visit after another; None for a car not seen."""
    kept = [sorted(d for d in days if d <= day) for days in visits]
    more = [sum(1 for a, b in pairwise(days) if b - a > 30) for days in kept]
    watched = sum((day - days[0]) / YEAR for days in kept if days)
    usual = (sum(more) + 1) / (watched + 1)
    found = []
    for days, again in zip(kept, more, strict=True):
        if not days:
            found.append(None)
            continue
        own = (again + 2) / ((days[-1] - days[0]) / YEAR + 2 / usual)
        found.append((day - days[-1]) / YEAR * own / usual)
    return found


def as_arrays(visits):
    rows = [(car, d) for car, days in enumerate(visits) for d in sorted(days)]
    car, day = (np.array(column) for column in zip(*rows, strict=True)) if rows else (np.zeros(0, int), np.zeros(0))
    return car.astype(np.int64), day.astype(np.float64)


@given(st.lists(st.lists(st.integers(0, 5000), max_size=8), min_size=1, max_size=6), st.integers(0, 5200))
def test_missed_visits_are_those_of_a_plain_count(visits, day):
    seen = seen_until(*as_arrays(visits), np.full(len(visits), NEVER), float(day))
    for car, expected in enumerate(plain_missed(visits, day)):
        assert seen.known[car] == (expected is not None)
        if expected is not None:
            assert seen.missed[car] == pytest.approx(expected)


def test_a_car_that_came_often_and_stopped_has_missed_more_than_one_that_never_came_often():
    visits = [list(range(0, 3650, 180)), [0, 1825, 3600]]
    seen = seen_until(*as_arrays(visits), np.full(2, NEVER), 5000.0)
    assert seen.missed[0] > 2 * seen.missed[1]


def test_a_car_that_is_known_to_have_left_is_not_in_care():
    visits = [[0, 400, 900], [0, 400, 900]]
    seen = seen_until(*as_arrays(visits), np.array([950.0, NEVER]), 1000.0)
    q = Presence(1.2, 4.0, fitted=True).of(seen)
    assert q[0] == 0
    assert q[1] == pytest.approx(1.2 * np.exp(-seen.missed[1] / 4.0))


def test_without_a_past_origin_the_prior_speaks_and_says_so():
    nothing = np.zeros(0)
    found = presence(nothing, nothing, nothing, Parameters())
    assert (found.level, found.tau, found.fitted) == (1.0, 4.0, False)


def test_the_fall_of_presence_is_found_from_failures_seen_and_expected():
    """3,000 car-years, 0.4 failures expected each, of which 1.1 exp(-z / 2) are seen; 40 runs, seed 5."""
    rng = np.random.default_rng(5)
    missed = rng.exponential(1.5, 3000)
    expected = np.full(3000, 0.4)
    found = [
        presence(missed, rng.poisson(expected * 1.1 * np.exp(-missed / 2.0)), expected, Parameters()) for _ in range(40)
    ]
    assert np.median([one.tau for one in found]) == pytest.approx(2.0, rel=0.12)
    assert np.mean([one.level for one in found]) == pytest.approx(1.1, rel=0.05)


def test_few_failures_leave_the_level_near_one():
    found = presence(np.array([0.5]), np.array([3.0]), np.array([1.0]), Parameters())
    assert 1.0 < found.level < 1.5


def test_presence_never_rises_with_missed_visits():
    seen = seen_until(*as_arrays([[0, 300, 900], [0, 300, 600], [0, 300]]), np.full(3, NEVER), 1500.0)
    assert_allclose(np.argsort(seen.missed), np.argsort(-Presence(1.0, 4.0, fitted=False).of(seen)))
