"""The exposure read off a curve over the shape is that summed over the units, and knows where it is not."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import exposure_curve as module
from analytics.estimators.exposure_curve import exposure_curve
from analytics.estimators.known_units import exposure, exposure_slope
from analytics.estimators.life_spells import life_spells
from tests.estimators.cases import spells

RNG = np.random.default_rng(11)
LIVES = RNG.weibull(1.6, 400)
SHAPES = np.geomspace(0.2, 15, 200)[None, :]

UNITS = {
    "lives": spells(exit=LIVES.tolist()),
    "late entry": spells(entry=(0.3 + 0 * LIVES).tolist(), exit=(0.3 + LIVES).tolist()),
    "one life a thousand times the others": spells(exit=[*LIVES.tolist(), 1000.0]),
    "a short life for many, a long one for few": spells(exit=[1.0] * 30_000 + [10.0]),
    "two heaps twelve decades apart": spells(exit=[1e-3] * 3_000 + [1e9]),
    "from 1e-3 to 1e9": spells(exit=(10 ** RNG.uniform(-3, 9, 400)).tolist()),
    "watched for a billionth of the age": spells(entry=[1e9] * 50, exit=(1e9 + 1 + RNG.random(50)).tolist()),
    "no time": spells(exit=[5.0] * 4, exit_lower=[0.0] * 4),
}
ANSWERED_BY = {
    "lives": "smooth",
    "late entry": "smooth",
    "one life a thousand times the others": "shorter",
    "a short life for many, a long one for few": "shorter",
    "watched for a billionth of the age": "summed",
    "no time": "summed",
}


@pytest.mark.parametrize("name", UNITS)
def test_the_curve_and_its_slope_are_those_of_the_sums(name):
    rows = life_spells(UNITS[name], (), returned=(), where="test")
    curve, sums = exposure_curve(rows), exposure(rows, SHAPES)
    assert_allclose(curve.exposure(SHAPES), sums, rtol=1e-10)
    slope = exposure_slope(rows, SHAPES)
    assert_allclose(curve.slope(SHAPES), slope, rtol=1e-7, atol=1e-9 * np.abs(slope).max())
    way = "summed" if curve.others.size else "shorter" if curve.bent.size else "smooth"
    assert way == ANSWERED_BY.get(name, way)


def test_groups_cut_anywhere_and_in_any_mixture_keep_their_own_curve(monkeypatch):
    monkeypatch.setattr(module, "SPELLS_AT_ONCE", 7)
    monkeypatch.setattr(module, "SPELLS_PER_TASK", 10)
    lengths = [1, 5, 40, 3]
    exits = RNG.uniform(1, 9, sum(lengths))
    exits[10:30] = 0.001
    group = np.repeat(np.arange(4), lengths)
    order = RNG.permutation(group.size)
    frame = spells(exit=exits[order].tolist(), group=group[order].tolist())
    rows = life_spells(frame, "group", returned=(), where="test")
    shapes = np.repeat(SHAPES, 4, axis=0)
    assert_allclose(exposure_curve(rows).exposure(shapes), exposure(rows, shapes), rtol=1e-10)
