"""How often the stated limits hold, in fleets simulated from a known law.

Acceptance bands: from 1,000 fleets per cell (ages known) and 500 (70 % unknown), four shapes by five expected numbers
of failures by three targets, extremes over two runs widened by about two Monte Carlo errors. Here fewer cells, 400
fleets each, fixed seeds: the Monte Carlo error of a coverage is 0.011 at 0.95 and 0.015 at 0.90.
"""

import math
from dataclasses import replace

import numpy as np
import polars as pl
import pytest

from analytics.estimators import fit_family, fit_weibull_residual, life_models, life_posterior
from analytics.parameters import Parameters
from tests.truth.fleets import fleets, watched_units

pytestmark = pytest.mark.truth

FLEETS = 400
LIFE = 10.0
YEARS_WATCHED = 6.0
CLOSED = replace(Parameters(), upper_open_ratio=1e30)
"""No limit is left out, so that both can be checked."""


def simulated(shape, expected, known_share, seed):
    """Fleets with about so many failures each; cars join 8 to 35 years after they were built."""
    cars = max(1, round(expected * LIFE * math.gamma(1 + 1 / shape) / YEARS_WATCHED))
    return fleets(np.random.default_rng(seed), FLEETS, cars, shape, LIFE, known_share=known_share)


def limits_of(units, shape):
    """Limits of life10, life50 and of the survival at 5 years with their true values, a row per fleet."""
    models, survival = life_models(units, "fleet", ages=pl.DataFrame({"time": [5]}), parameters=CLOSED)
    at_five = survival.select("fleet", s5_lower="lower", s5_upper="upper")
    median = LIFE * math.log(2) ** (1 / shape)
    truth = {
        "life10": LIFE * (-math.log(0.9)) ** (1 / shape),
        "life50": median,
        "s5": math.exp(-((5 / LIFE) ** shape)),
    }
    return models.join(at_five, on="fleet", validate="1:1"), truth


def coverage(frame, name, true):
    lower, upper = (frame[name + "_lower"] <= true), (frame[name + "_upper"] >= true)
    return (lower & upper).mean(), lower.mean(), upper.mean()


@pytest.mark.parametrize(("shape", "expected"), [(0.8, 1), (1.2, 15), (1.8, 4), (3.5, 4), (3.5, 15)])
def test_limits_hold_where_ages_are_known(shape, expected):
    models, truth = limits_of(simulated(shape, expected, 1.0, 1), shape)
    for name, true in truth.items():
        both, lower, upper = coverage(models.filter(pl.col("failures") > 0), name, true)
        assert both >= 0.86, name
        assert lower >= 0.91, name
        assert upper >= 0.90, name


@pytest.mark.parametrize(("shape", "expected"), [(0.8, 4), (3.5, 15)])
def test_limits_hold_where_seven_ages_in_ten_are_unknown(shape, expected):
    models, truth = limits_of(simulated(shape, expected, 0.3, 1), shape)
    for name, true in truth.items():
        both, lower, upper = coverage(models.filter(pl.col("failures") > 0), name, true)
        assert both >= 0.82, name
        assert lower >= 0.87, name
        assert upper >= 0.90, name


@pytest.mark.parametrize(("known_share", "least"), [(1.0, 0.91), (0.3, 0.87)])
@pytest.mark.parametrize("shape", [0.8, 3.5])
def test_the_lower_limit_holds_also_where_nothing_has_failed_yet(shape, known_share, least):
    models, truth = limits_of(simulated(shape, 1, known_share, 2), shape)
    assert (models["failures"] == 0).mean() > 0.2
    for name, true in truth.items():
        assert (models[name + "_lower"] <= true).mean() >= least, name


@pytest.mark.parametrize("shape", [0.8, 1.8, 3.5])
def test_control_likelihood_ratio_limits_fail_where_ages_are_unknown(shape):
    # a test of coverage that cannot tell a poor method from a good one would be worth nothing
    fitted = fit_weibull_residual(simulated(shape, 4, 0.3, 5), "fleet", confidence=0.9)
    fitted = fitted.filter(pl.col("status") == "ok")
    fitted = fitted.with_columns(pl.col("shape_lower", "life_lower").fill_null(0.0))
    fitted = fitted.with_columns(pl.col("shape_upper", "life_upper").fill_null(1e30))
    assert coverage(fitted, "shape", shape)[0] < 0.88
    assert coverage(fitted, "life", LIFE)[0] < 0.88


@pytest.mark.parametrize(
    ("shape", "life", "positions"), [(3.0, 3000.0, 25), (2.0, 9000.0, 60), (1.3, 3600.0, 25)], ids=str
)
def test_the_renewal_likelihood_finds_the_median_life(shape, life, positions):
    # cars join 8,000 to 16,000 days after they were built and stay ten years; no unit found in them is of known age.
    # 100 fleets: the Monte Carlo error of the mean log ratio is 0.009, 0.021 and 0.019; the target is 5 %
    rng = np.random.default_rng(11)
    stay = {"joined": (8000.0, 16000.0), "stay": (3650.0, 3650.0), "known_share": 0.0}
    units = fleets(rng, 100, positions, shape, life, **stay)
    fitted = fit_weibull_residual(units, "fleet").filter(pl.col("status") == "ok")
    log_median = np.log(fitted["life"]) + math.log(math.log(2)) / fitted["shape"]
    error = log_median.to_numpy() - math.log(life * math.log(2) ** (1 / shape))
    assert fitted.height >= 95
    assert abs(error.mean()) < 0.05
    assert np.sqrt((error**2).mean()) < {3.0: 0.13, 2.0: 0.28, 1.3: 0.26}[shape]
    as_new = life_posterior(units.with_columns(age_known=True), "fleet")["life50"].log().to_numpy()
    assert (as_new - math.log(life * math.log(2) ** (1 / shape))).mean() < -0.12, "treated as new they look short-lived"


@pytest.mark.parametrize("known_share", [1.0, 0.3])
def test_a_family_tells_more_than_a_few_failures_of_ones_own(known_share):
    # 40 families of 10 members of 8 cars: log life50 ~ N(log 15, 0.35), log shape ~ N(log 1.8, 0.2)
    rng = np.random.default_rng(3)
    families, members, cars = 40, 10, 8
    life50 = np.exp(math.log(15) + 0.35 * rng.standard_normal(families * members))
    shape = np.exp(math.log(1.8) + 0.2 * rng.standard_normal(families * members))
    life = np.repeat(life50 / math.log(2) ** (1 / shape), cars)
    units = watched_units(rng, np.repeat(shape, cars), life, families * members * cars, known_share=known_share)
    units = units.with_columns(member=pl.col("position") // cars, family=pl.col("position") // (cars * members))
    own = life_posterior(units, ["family", "member"], parameters=CLOSED)
    pooled = fit_family(units, "member", by="family", parameters=CLOSED)
    both = own.join(pooled, on=["family", "member"], suffix="_pooled", validate="1:1")
    few = both.filter(pl.col("failures").is_between(1, 4), pl.col("life50_pooled").is_not_null())
    true = np.log(life50[few["member"].to_numpy()])
    error = {name: np.sqrt(((few[name].log().to_numpy() - true) ** 2).mean()) for name in ("life50", "life50_pooled")}
    assert few.height > 200
    assert error["life50_pooled"] <= 0.8 * error["life50"]
    held = (few["life50_lower_pooled"].log() <= true) & (few["life50_upper_pooled"].log() >= true)
    assert 0.87 <= held.mean() <= 0.97
