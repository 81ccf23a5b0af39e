"""The law of a unit found fitted: exact cases, integrals, and a simulation of renewals."""

import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.integrate import quad

from analytics.estimators import fails_within, fit_weibull, fit_weibull_residual, goodness_of_fit, life_posterior
from analytics.estimators.renewal import residual_tables, table_cells
from analytics.estimators.shapes import LN2, SHAPE
from tests.estimators.cases import spells


def tabulated(shape, car_age, waited):
    """G and g at median life 1, from the table of the nearest shape, with that shape."""
    row = int(np.abs(SHAPE - shape).argmin())
    cells, weights = table_cells(np.log([car_age]), np.log([waited]))
    tables = residual_tables()
    log_survival, log_density = (
        float((table[cells[0], row] * weights[0]).sum()) for table in (tables.log_survival, tables.log_density)
    )
    return math.exp(log_survival), math.exp(log_density), float(SHAPE[row])


@pytest.mark.parametrize("shape", [0.5, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("waited", [0.02, 0.3, 1.0])
def test_rule_28_without_a_build_date_the_equilibrium_law_is_taken(shape, waited):
    survival, density, own = tabulated(shape, math.inf, waited)
    mean = math.gamma(1 + 1 / own) * LN2 ** (-1 / own)
    beyond = quad(lambda t: math.exp(-LN2 * t**own), waited, np.inf)[0]
    assert_allclose(survival, beyond / mean, rtol=2e-3)
    assert_allclose(density, math.exp(-LN2 * waited**own) / mean, rtol=2e-3)


def test_rule_28_a_missing_build_date_and_a_very_old_car_say_the_same():
    units = {"exit": [900, 1500, 300, 1200, 2500, 2500], "event": [1, 1, 1, 1, 0, 0], "age_known": [False] * 6}
    missing, old = (life_posterior(spells(**units, vehicle_age=age)) for age in ([None] * 6, [200_000] * 6))
    # the two laws part ways at shapes far below 1 only, which weigh in the outermost limits
    for name in ("shape", "life50"):
        assert_allclose(missing[name], old[name], rtol=0.03, err_msg=name)
    young = life_posterior(spells(**units, vehicle_age=[1000] * 6))
    assert young["life50"][0] < 0.8 * missing["life50"][0], "a unit found in a young car cannot have lived long before"


def test_rule_27_unknown_ages_enter_only_the_residual_fit():
    known = spells(exit=[800, 1200, 2500, 3100], event=[1, 1, 1, 0]).with_columns(age_known=pl.lit(value=True))
    unknown = spells(exit=[100, 200, 300], event=[1, 1, 0]).with_columns(age_known=pl.lit(value=False))
    both = pl.concat([known, unknown]).with_columns(vehicle_age=pl.lit(9000))
    for untouched in (fit_weibull, goodness_of_fit):
        with_them, without = untouched(both), untouched(known)
        assert with_them["units"].to_list() == without["units"].to_list() == [4]
        for name in without.columns:
            if without.schema[name] == pl.Float64 and without[name][0] is not None:
                assert_allclose(with_them[name], without[name], rtol=1e-9, err_msg=name)
    for using in (fit_weibull_residual, life_posterior):
        assert using(both)["units"].to_list() == [7]
        assert using(both)["life"][0] != pytest.approx(using(known)["life"][0], rel=0.01)


@pytest.mark.parametrize("car_age", [0.2, 1.5, 7.0])
def test_lives_without_memory_do_not_tell_how_old_a_unit_is(car_age):
    row = int(np.abs(SHAPE - 1).argmin())
    survival, _, own = tabulated(1.0, car_age, 0.8)
    assert_allclose(survival, 0.5**0.8, rtol=0.01 + abs(own - 1))
    assert SHAPE[row] == own


@pytest.mark.parametrize("shape", [0.6, 2.0, 4.5])
def test_the_table_agrees_with_simulated_renewals(shape):
    # 200,000 positions: the Monte Carlo error of a share is at most 0.0011
    rng = np.random.default_rng(17)
    own = float(SHAPE[np.abs(SHAPE - shape).argmin()])
    for car_age in (0.4, 1.3, 4.0):
        fails = LN2 ** (-1 / own) * rng.weibull(own, 200_000)
        while (early := fails < car_age).any():
            fails[early] += LN2 ** (-1 / own) * rng.weibull(own, int(early.sum()))
        for waited in (0.1, 0.5, 1.1):
            assert_allclose(tabulated(shape, car_age, waited)[0], (fails > car_age + waited).mean(), atol=0.005)


@pytest.mark.parametrize("shape", [0.8, 1.9, 5.0])
@pytest.mark.parametrize("car_age", [0.3, 2.1, 20.0, math.inf])
def test_the_density_is_the_slope_of_the_survival(shape, car_age):
    # over a step of the table, so that interpolation is not what is tested
    low, high = 0.5, 0.5 * math.exp(0.2)
    lost = tabulated(shape, car_age, low)[0] - tabulated(shape, car_age, high)[0]
    inside = np.linspace(low, high, 41)
    density = np.array([tabulated(shape, car_age, waited)[1] for waited in inside])
    assert_allclose(np.trapezoid(density, inside), lost, rtol=0.02)


def test_a_horizon_is_failed_within_as_the_law_says():
    known = fails_within(2.0, 10.0, [0.0, 5.0], 3.0)
    assert_allclose(known, [1 - math.exp(-0.09), 1 - math.exp(0.25 - 0.64)])
    unknown = fails_within(2.0, 10.0, [0.0, 5.0], 3.0, joined_at=[25.0, np.nan])
    mean = math.gamma(1.5) * 10
    gone = [quad(lambda t: math.exp(-((t / 10) ** 2)), u, u + 3)[0] / mean for u in (0, 5)]
    left = quad(lambda t: math.exp(-((t / 10) ** 2)), 5, np.inf)[0] / mean
    assert_allclose(unknown, [gone[0], gone[1] / left], rtol=0.01)
    draws = fails_within(np.full((7, 1), 1.4), np.linspace(5, 9, 7)[:, None], np.arange(4), 1.0, joined_at=np.arange(4))
    assert draws.shape == (7, 4)
    assert ((draws >= 0) & (draws <= 1)).all()
    assert (np.diff(draws, axis=0) < 0).all(), "longer lives fail less"
