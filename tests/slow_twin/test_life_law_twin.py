"""The grid posterior against a slow one that does everything differently."""

import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import fit_weibull, life_posterior, life_quantile, survival_posterior
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


def test_units_of_unknown_age_agree_exact_silent_and_after_a_lay_up():
    known = [(0, 4, 1, None), (1, 8, 1, None), (0, 7, 0, None), (0, 6, 1, 4)]
    unknown = [
        (0, 2, 1, None),
        (0, 5, 0, None),
        (3, 7, 1, None),
        (2, 6, 0, None),
        (0, 5, 1, 3),
        (0, 3, 1, 0),
        (1, 9, 1, 6),
    ]
    both = frame([*known, *unknown]).with_columns(
        age_known=pl.Series([True] * len(known) + [False] * len(unknown)), vehicle_age=pl.lit(None, pl.Float64)
    )
    result = life_posterior(both).row(0, named=True)
    for name, failed in {"life10": 0.1, "life50": 0.5}.items():
        points = posterior_points(known, lives(failed), SHARES, unknown)
        assert_allclose([result[name + side] for side in ("_lower", "", "_upper")], points, rtol=0.015, err_msg=name)


def test_with_many_failures_the_posterior_and_the_likelihood_ratio_meet():
    # 1,100 failures leave less than a step of the grid of shapes; the prior weighs nothing
    rng = np.random.default_rng(2)
    entry, life = rng.uniform(0, 5, 4000), 9 * rng.weibull(3.1, 4000)
    many = pl.DataFrame({"entry": entry, "exit": np.minimum(life, entry + 4), "event": (life < entry + 4).astype(int)})
    many = many.filter(pl.col("exit") > pl.col("entry"))
    result = life_posterior(many).row(0, named=True)
    fit = fit_weibull(many, confidence=0.9).row(0, named=True)
    assert result["failures"] > 1100
    assert_allclose([result["shape_lower"], result["shape_upper"]], [fit["shape_lower"], fit["shape_upper"]], rtol=3e-3)
    for name, failed in {"life10": 0.1, "life50": 0.5}.items():
        ratio = life_quantile(many, failed, confidence=0.9).row(0, named=True)
        points = [result[name + "_lower"], result[name], result[name + "_upper"]]
        assert_allclose(points, [ratio["lower"], ratio["life"], ratio["upper"]], rtol=2e-3)


@pytest.mark.parametrize("factor", [1e-3, 365.25, 1e6])
def test_another_unit_of_time_changes_the_times_only(factor):
    known = frame(FLEETS["nine failures"]).with_columns(age_known=pl.lit(value=True), vehicle_age=pl.lit(30.0))
    both = pl.concat([known, known.with_columns(age_known=pl.lit(value=False), entry=pl.lit(0.0))])
    scaled = both.with_columns(pl.col("entry", "exit", "exit_lower", "vehicle_age") * factor)
    here, there = (life_posterior(table).row(0, named=True) for table in (both, scaled))
    for name in ("life10_lower", "life50", "life_upper"):
        assert_allclose(there[name], here[name] * factor, rtol=1e-6)
    assert_allclose(there["shape"], here["shape"], rtol=1e-6)


def test_the_bound_without_failure_agrees():
    units = [(0, 5, 0, None), (1, 9, 0, None), (4, 7, 0, None)]
    result = life_posterior(frame(units)).row(0, named=True)
    assert_allclose(result["life50_lower"], bound_point(units, 0.05), rtol=0.01)
    assert (result["basis"], result["status"]) == ("bound only", "bound only")
    assert result["life50"] is result["life50_upper"] is result["shape"] is result["shape_lower"] is None
