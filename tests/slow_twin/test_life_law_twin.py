"""The grid posterior against a slow one that does everything differently."""

import math

import numpy as np
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import life_posterior, survival_posterior
from tests.estimators.cases import spells
from tests.slow_twin.life_law import bound_point, posterior_points

FLEETS = {
    "two failures": [(0, 3, 1, None), (2, 9, 1, None), (0, 12, 0, None), (5, 14, 0, None)],
    "nine failures": [(0, t, 1, None) for t in (2, 3, 4, 4, 6, 7, 7, 9, 11)] + [(3, 8, 0, None), (0, 10, 0, None)],
    "silent faults": [(0, 6, 1, 2), (0, 9, 1, 7), (1, 5, 1, 1), (0, 4, 1, None), (0, 8, 0, None)],
    "sixty failures": [(0.1 * i, 3 + 0.1 * i + 0.37 * (i % 17), 1, None) for i in range(60)],
}
SHARES = (0.05, 0.5, 0.95)


def frame(units):
    entry, leave, event, lower = zip(*units, strict=True)
    return spells(
        entry=[float(t) for t in entry], exit=[float(t) for t in leave], event=list(event), exit_lower=list(lower)
    )


def lives(failed):
    return lambda shape, life: life * (-math.log1p(-failed)) ** (1 / shape)


@pytest.mark.parametrize("fleet", FLEETS)
def test_lives_and_shape_agree(fleet):
    result = life_posterior(frame(FLEETS[fleet])).row(0, named=True)
    values = {"life10": lives(0.1), "life50": lives(0.5), "life": lives(1 - math.exp(-1)), "shape": lambda b, _: b}
    for name, value in values.items():
        points = posterior_points(FLEETS[fleet], value, SHARES)
        found = [result[name + side] for side in ("_lower", "", "_upper")]
        if found[2] is None:
            assert points[2] > 20 * points[0], name
            points, found = points[:2], found[:2]
        assert_allclose(found, points, rtol=0.015, err_msg=name)


@pytest.mark.parametrize("fleet", FLEETS)
def test_survival_agrees(fleet):
    result = survival_posterior(frame(FLEETS[fleet]), [1.0, 5.0, 12.0])
    for age, survival, lower, upper in result.select("time", "survival", "lower", "upper").iter_rows():
        points = posterior_points(FLEETS[fleet], lambda b, life, t=age: np.exp(-((t / life) ** b)), SHARES)
        assert_allclose([lower, survival, upper], points, atol=0.004)


def test_the_bound_without_failure_agrees():
    units = [(0, 5, 0, None), (1, 9, 0, None), (4, 7, 0, None)]
    result = life_posterior(frame(units)).row(0, named=True)
    assert_allclose(result["life50_lower"], bound_point(units, 0.05), rtol=0.01)
    assert (result["basis"], result["status"]) == ("bound only", "bound only")
    assert result["life50"] is result["life50_upper"] is result["shape"] is result["shape_lower"] is None
