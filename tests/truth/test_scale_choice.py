"""Whether wear goes by age or by distance is told as often as it should be, and not told where both count.

Fleets of units whose law, Weibull of shape 2.5, holds in u = age**(1 - theta) * distance**theta; cars with log use
rates of standard deviation 0.4 or 0.8; two units in five enter late; about 10, 20 and 40 failures. 300 fleets per
cell, seed 1: the Monte Carlo error of a share is 0.023 at 0.80, 0.013 at 0.95.
"""

import numpy as np
import polars as pl
import pytest

from analytics.estimators import choose_scale

pytestmark = pytest.mark.truth

FLEETS, MEDIAN_RATE, LIFE, SHAPE = 300, 5.0, 4000.0, 2.5
UNITS = {10: 18, 20: 36, 40: 72}
"""Units that give about so many failures."""


def fleets(theta, failures, spread, seed=1):
    rng = np.random.default_rng([seed, failures, int(10 * theta), int(10 * spread)])
    n = FLEETS * UNITS[failures]
    rate = MEDIAN_RATE * np.exp(spread * rng.standard_normal(n))
    age = LIFE * rng.weibull(SHAPE, n) * (rate / MEDIAN_RATE) ** -theta
    entry = np.where(rng.random(n) < 0.4, rng.uniform(0, 3000, n), 0.0)
    leaves = entry + rng.uniform(2000, 6000, n)
    leave = np.minimum(age, leaves)
    rows = pl.DataFrame(
        {
            "fleet": np.arange(n) // UNITS[failures],
            "age_entry": entry,
            "age_exit": leave,
            "distance_entry": entry * rate,
            "distance_exit": leave * rate,
            "event": (age <= leaves).astype(np.int64),
            "slope": rate,
        }
    )
    return rows.filter(pl.Series(age > entry))


def told(theta, failures, spread):
    found = choose_scale(fleets(theta, failures, spread), "fleet").filter(pl.col("status") == "ok")
    assert found.height >= FLEETS / 2
    return found


@pytest.mark.parametrize("spread", [0.4, 0.8])
@pytest.mark.parametrize(("failures", "least"), [(10, 0.80), (20, 0.90), (40, 0.98)])
@pytest.mark.parametrize("theta", [0.0, 1.0])
def test_the_true_scale_is_more_likely(theta, failures, least, spread):
    found = told(theta, failures, spread)
    ahead = found["log_likelihood_distance"] - found["log_likelihood_age"]
    assert ((ahead > 0) if theta else (ahead < 0)).mean() >= least
    wrong = "age" if theta else "distance"
    assert (found["verdict"] == wrong).mean() <= 0.02
    assert ((found["lower"] <= theta) & (found["upper"] >= theta)).mean() >= 0.87


@pytest.mark.parametrize("spread", [0.4, 0.8])
@pytest.mark.parametrize("failures", [10, 20, 40])
def test_where_age_and_distance_count_alike_neither_is_said_more_often_than_the_limits_allow(failures, spread):
    found = told(0.5, failures, spread)
    assert 0.84 <= ((found["lower"] <= 0.5) & (found["upper"] >= 0.5)).mean() <= 0.96
    for word in ("age", "distance"):
        assert (found["verdict"] == word).mean() <= 0.10
    assert abs(found["theta"].mean() - 0.5) < 0.06


@pytest.mark.parametrize("theta", [0.3, 0.7])
def test_the_limits_of_a_mixture_hold(theta):
    found = told(theta, 40, 0.8)
    assert 0.85 <= ((found["lower"] <= theta) & (found["upper"] >= theta)).mean() <= 0.95


def test_control_without_the_slope_the_comparison_always_falls_to_one_side():
    # a density per km is a smaller number than one per day: uncorrected likelihoods are not of the same event
    found = told(1.0, 40, 0.8)
    rows = fleets(1.0, 40, 0.8).join(found.select("fleet", "failures"), on="fleet")
    no_slope = rows.filter(pl.col("event") == 1).group_by("fleet").agg(pl.col("slope").log().sum())
    both = found.join(no_slope, on="fleet")
    uncorrected = both["log_likelihood_distance"] - both["slope"] - both["log_likelihood_age"]
    assert (uncorrected > 0).mean() < 0.1
