"""Units in cells of like age: nothing is lost, small fleets are exact, large ones nearly so."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import fails_within
from analytics.stock.like_units import CELLS, EQUILIBRIUM, KNOWN, UNKNOWN, Units, cells_of


def units(rng, count, kinds=(KNOWN, UNKNOWN, EQUILIBRIUM), paces=(1.0,)):
    kind = rng.choice(kinds, count)
    return Units(
        car=np.arange(count),
        law=rng.integers(0, 2, count),
        kind=kind,
        age=rng.uniform(0, 6000, count),
        joined=np.where(kind == KNOWN, 0.0, np.where(kind == UNKNOWN, rng.uniform(0, 14_000, count), np.inf)),
        pace=rng.choice(paces, count),
    )


SHAPE, LIFE, DAYS = np.array([0.8, 1.5, 3.0]), np.array([9000.0, 4000.0, 3000.0]), np.array([[[60.0]], [[400.0]]])


def chances(cells):
    wide = np.ones((1, cells.law.size))
    return cells.chances(SHAPE[:, None] * wide, LIFE[:, None] * wide, DAYS)


def exact(given_units):
    """The chance of each unit by the estimator, without cells."""
    horizon = DAYS * given_units.pace
    law = SHAPE[:, None], LIFE[:, None], given_units.age
    unknown = fails_within(*law, horizon, given_units.joined)
    return np.where(given_units.kind == KNOWN, fails_within(*law, horizon), unknown)


@given(st.integers(0, 10_000), st.integers(0, 400), st.sampled_from([(1.0,), (0.5, 4.0, 30.0)]))
def test_every_unit_lies_in_one_cell_of_its_own_law_and_kind(seed, count, paces):
    some = units(np.random.default_rng(seed), count, paces=paces)
    cells = cells_of(some)
    assert cells.of_unit.size == count
    assert_allclose(cells.law[cells.of_unit], some.law)
    assert_allclose(cells.kind[cells.of_unit], some.kind)
    assert cells.law.size <= max(count, 1)
    assert cells.law.size <= 2 * 3 * CELLS
    assert cells.summed(np.ones(count)).sum() == count


def test_few_units_are_cells_of_their_own_and_take_the_estimators_chance():
    some = units(np.random.default_rng(1), 90)
    cells = cells_of(some)
    assert cells.law.size == 90
    assert_allclose(chances(cells)[0][..., cells.of_unit], exact(some), rtol=1e-12)


@pytest.mark.parametrize("paces", [(1.0,), (0.5, 2.0, 4.0, 9.0)])
def test_ten_thousand_units_in_cells_are_expected_to_fail_as_often_as_one_by_one(paces):
    some = units(np.random.default_rng(2), 10_000, paces=paces)
    cells = cells_of(some)
    found = chances(cells)[0] @ cells.summed(np.ones(10_000))
    assert_allclose(found, exact(some).sum(axis=-1), rtol=0.01)


def test_the_successor_is_new_and_has_half_of_the_horizon():
    cells = cells_of(units(np.random.default_rng(3), 5, kinds=(KNOWN,)))
    expected = -np.expm1(-((DAYS / 2 / LIFE[:, None]) ** SHAPE[:, None]))
    assert_allclose(chances(cells)[1], np.broadcast_to(expected, (2, 3, 5)))


def test_no_unit_gives_no_cell():
    nothing = units(np.random.default_rng(4), 0)
    assert cells_of(nothing).law.size == 0
