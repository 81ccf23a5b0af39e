"""Weibull fits, quantiles, residual lives, goodness of fit and replacement ages against their plain twins."""

from math import exp, log

import numpy as np
import polars as pl
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import (
    fails_within,
    fit_weibull,
    fit_weibull_residual,
    goodness_of_fit,
    life_quantile,
    replacement_age,
)
from analytics.estimators.shapes import SHAPE
from tests.estimators.cases import spells
from tests.slow_twin import weibull

DROP = 3.841458820694124 / 2
"""Half the 95 % point of chi-square with one degree of freedom."""

TIMES = st.tuples(st.integers(0, 9), st.integers(1, 30), st.sampled_from(["failed", "running", "found"]))
SHAPES = st.sampled_from([float(SHAPE[np.abs(SHAPE - near).argmin()]) for near in (0.7, 1.2, 2.0, 3.5)])


def unit(given_):
    entry, stay, end = given_
    lower = entry + stay // 2 if end == "found" else None
    return entry, entry + stay, int(end != "running"), lower


UNITS = st.lists(TIMES.map(unit), min_size=3, max_size=9)


def frame(units):
    entry, leave, event, lower = zip(*units, strict=True)
    return spells(entry=list(entry), exit=list(leave), event=list(event), exit_lower=list(lower))


def matched(limits, row, names):
    for limit, name in zip(limits, names, strict=True):
        assert (row[name] is None) == (limit is None), name
        if limit is not None:
            assert_allclose(row[name], limit, rtol=2e-4, err_msg=name)


@settings(max_examples=8)
@given(UNITS)
def test_weibull_fits_and_their_limits(units):
    row = fit_weibull(frame(units)).row(0, named=True)
    assume(row["status"] == "ok")
    shape, life, top = weibull.fit(units)
    assert_allclose(row["log_likelihood"], top, rtol=1e-7, atol=1e-7)
    assert_allclose([row["shape"], row["life"]], [shape, life], rtol=1e-4)
    matched(weibull.shape_limits(units, shape, top - DROP), row, ("shape_lower", "shape_upper"))


@settings(max_examples=5)
@given(UNITS, st.sampled_from([0.1, 0.5]))
def test_quantiles_of_lives_and_their_limits(units, failed):
    row = life_quantile(frame(units), failed).row(0, named=True)
    assume(row["status"] == "ok" and row["lower"] is not None and row["upper"] is not None)
    shape, life, top = weibull.fit(units)
    estimate = life * (-log(1 - failed)) ** (1 / shape)
    assert_allclose(row["life"], estimate, rtol=1e-4)
    matched(weibull.quantile_limits(units, failed, estimate, top - DROP), row, ("lower", "upper"))


@settings(max_examples=15)
@given(UNITS, st.floats(0.4, 5))
def test_lives_where_the_shape_is_given(units, shape):
    row = fit_weibull(frame(units), shape=shape).row(0, named=True)
    assume(row["status"] == "ok")
    assert_allclose(row["life"], weibull.best_life(units, shape), rtol=1e-5)
    top = weibull.profile(units, shape)
    assert_allclose(row["log_likelihood"], top, rtol=1e-7, atol=1e-7)
    # none of the limits is nearer than the likelihood ratio, or than the failures and exposure say
    assert row["life_lower"] < row["life"] < row["life_upper"]


@settings(max_examples=8)
@given(st.lists(st.floats(0.5, 60), min_size=3, max_size=12, unique=True))
def test_goodness_of_fit_of_complete_lives(lives):
    row = goodness_of_fit(spells(exit=lives)).row(0, named=True)
    assume(row["status"] == "ok")
    found = [row[name] for name in ("statistic", "adjusted_statistic", "p_value")]
    assert_allclose(found, weibull.anderson_darling(lives), rtol=1e-4)


@settings(max_examples=15)
@given(st.floats(1.2, 6), st.floats(0.5, 9000), st.floats(1.5, 20))
def test_ages_of_planned_replacement(shape, life, ratio):
    row = replacement_age(shape, life, ratio).row(0, named=True)
    age, cost = weibull.replacement(shape, life, ratio)
    assume(row["status"] == "ok" and row["age"] < 3.5 * life)
    assert_allclose(row["cost_rate"], cost, rtol=2e-3)
    # the cost is flat around its lowest point: the age is known less well than the cost
    assert_allclose(row["age"], age, rtol=0.1)


@settings(max_examples=15)
@given(SHAPES, st.floats(0.1, 4), st.floats(0.02, 1.5), st.floats(0.02, 1.0))
def test_failing_within_a_horizon_at_an_age_known_and_unknown(shape, car_age, waited, horizon):
    known = 1 - exp(waited**shape - (waited + horizon) ** shape)
    assert_allclose(fails_within(shape, 7.0, 7 * waited, 7 * horizon), known, rtol=1e-9)
    now, later = (weibull.residual(shape, 1.0, car_age, wait) for wait in (waited, waited + horizon))
    unknown = fails_within(shape, 7.0, 7 * waited, 7 * horizon, joined_at=7 * car_age)
    assert_allclose(unknown, 1 - later / now, atol=0.012)


@settings(max_examples=15)
@given(st.floats(0.3, 30), st.floats(0.5, 1e4), st.floats(1e-3, 1e7), st.floats(1e-3, 1e6), st.floats(0, 1e7))
def test_a_longer_horizon_never_fails_less_whatever_the_age(shape, life, age, horizon, joined):
    for at in (None, joined):
        near, far = fails_within(shape, life, age, [horizon, 3 * horizon], joined_at=at)
        assert 0 <= near <= far <= 1


@settings(max_examples=25)
@given(
    SHAPES,
    st.lists(st.tuples(st.floats(0.3, 3), st.floats(0.1, 1.2), st.booleans()), min_size=3, max_size=6),
)
def test_fits_to_units_of_unknown_age(shape, units):
    assume(any(event for *_, event in units))
    shown = pl.DataFrame(units, schema=["vehicle_age", "exit", "event"], orient="row").with_columns(
        pl.col("event").cast(pl.Int64), entry=pl.lit(0.0), age_known=pl.lit(value=False)
    )
    row = fit_weibull_residual(shown, shape=shape).row(0, named=True)
    assume(row["status"] == "ok" and 0.3 < row["life"] < 8)

    def at(log_life):
        return weibull.residual_log_likelihood(units, shape, exp(log_life))

    # read off a grid: good to about one per cent in life; near its top the likelihood is flat
    assert_allclose(row["log_likelihood"], at(log(row["life"])), atol=0.06)
    assert max(at(log(row["life"]) + step) for step in (-0.3, -0.1, 0.1, 0.3)) < row["log_likelihood"] + 0.06
