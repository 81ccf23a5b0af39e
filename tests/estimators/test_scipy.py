"""The same figures from SciPy, on random lives: ties, one failure, lives known to an interval or one side only."""

import warnings

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.estimators import (
    adjust_p_values,
    fit_weibull,
    goodness_of_fit,
    kaplan_meier,
    log_rank,
    nelson_aalen,
    proportion,
    rate_ratio,
)
from tests.estimators.cases import spells

SEEDS = range(4)


def lives(seed, units=60):
    """Whole days with many ties and which of them ended in a failure."""
    rng = np.random.default_rng(seed)
    return np.ceil(rng.weibull(1.4, units) * 12).astype(int), rng.random(units) < 0.6


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("failures", ["most", "one"])
def test_product_limit_curves_and_limits_agree(seed, failures):
    leaves, failed = lives(seed)
    if failures == "one":
        failed = np.arange(failed.size) == int(np.argsort(leaves)[failed.size // 2])
    sample = stats.CensoredData.right_censored(leaves, ~failed)
    other = stats.ecdf(sample).sf
    curve = kaplan_meier(spells(exit=leaves.tolist(), event=failed.astype(int).tolist()))
    at = np.searchsorted(other.quantiles, curve["time"].to_numpy())
    assert_allclose(curve["survival"], other.probabilities[at], rtol=1e-12, atol=1e-12)
    alive = curve["survival"].to_numpy() > 0
    with np.errstate(divide="ignore", invalid="ignore"), warnings.catch_warnings():
        warnings.simplefilter("ignore")  # says that it knows no limits where all or none have failed
        limits = other.confidence_interval(0.95, method="log-log")
    for name, side in (("lower", limits.low), ("upper", limits.high)):
        assert_allclose(curve[name].to_numpy()[alive], side.probabilities[at][alive], rtol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
def test_log_rank_statistics_agree(seed):
    one, other = lives(seed), lives(seed + 100, 45)
    samples = [stats.CensoredData.right_censored(leaves, ~failed) for leaves, failed in (one, other)]
    theirs = stats.logrank(*samples)
    frame = spells(
        exit=[*one[0].tolist(), *other[0].tolist()],
        event=[*one[1].astype(int).tolist(), *other[1].astype(int).tolist()],
        kind=["a"] * 60 + ["b"] * 45,
    )
    ours = log_rank(frame, "kind")
    assert_allclose(ours["statistic"], theirs.statistic**2, rtol=1e-9)
    assert_allclose(ours["p_value"], theirs.pvalue, rtol=1e-8)


@pytest.mark.parametrize("seed", SEEDS)
def test_weibull_fits_of_exact_left_interval_and_right_censored_lives_agree(seed):
    rng = np.random.default_rng(seed)
    life, kind = 9 * rng.weibull(1.8, 90) + 0.01, rng.integers(0, 4, 90)
    exact, before, between, after = (life[kind == number] for number in range(4))
    sample = stats.CensoredData(
        uncensored=exact, left=before * 1.3, interval=np.column_stack([between * 0.7, between * 1.2]), right=after * 0.8
    )
    shape, _, scale = stats.weibull_min.fit(sample, floc=0)
    frame = spells(
        exit=[*exact, *before * 1.3, *between * 1.2, *after * 0.8],
        exit_lower=[*exact, *[0.0] * before.size, *between * 0.7, *[None] * after.size],
        event=[1] * (exact.size + before.size + between.size) + [0] * after.size,
    )
    fit = fit_weibull(frame).row(0, named=True)
    assert_allclose([fit["shape"], fit["life"]], [shape, scale], rtol=1e-3)
    # SciPy's search stops early: our maximum may only be higher
    law = stats.weibull_min(shape, scale=scale)
    theirs = law.logpdf(exact).sum() + law.logcdf(before * 1.3).sum() + law.logsf(after * 0.8).sum()
    theirs += np.log(law.cdf(between * 1.2) - law.cdf(between * 0.7)).sum()
    assert theirs - 1e-9 <= fit["log_likelihood"] <= theirs + 1e-4


@pytest.mark.parametrize("seed", SEEDS)
def test_goodness_of_fit_agrees_with_a_simulated_level(seed):
    life = 9 * np.random.default_rng(seed).weibull(1.8, 25)
    ours = goodness_of_fit(spells(exit=life.tolist())).row(0, named=True)
    shape, _, scale = stats.weibull_min.fit(life, floc=0)
    rng = np.random.default_rng(1)
    theirs = stats.goodness_of_fit(
        stats.weibull_min,
        life,
        known_params={"loc": 0},
        fit_params=None,
        guessed_params={"c": shape, "scale": scale},
        statistic="ad",
        n_mc_samples=199,
        rng=rng,
    )
    assert_allclose(ours["statistic"], theirs.statistic, rtol=1e-3)
    # 199 samples: three Monte Carlo errors, and what the formula of the handbook is worth
    assert abs(ours["p_value"] - theirs.pvalue) < 0.12


@pytest.mark.parametrize("seed", SEEDS)
def test_exact_limits_p_values_and_adjustment_agree(seed):
    rng = np.random.default_rng(seed)
    trials = rng.integers(1, 30, 12)
    successes = rng.binomial(trials, 0.3)
    for row, (k, n) in zip(proportion(successes, trials).iter_rows(), zip(successes, trials, strict=True), strict=True):
        interval = stats.binomtest(k, n).proportion_ci(0.95, "exact")
        assert_allclose(row[1:3], (interval.low, interval.high), atol=1e-9)
    exposure, other = rng.uniform(1, 9, 12), rng.uniform(1, 9, 12)
    p_values = rate_ratio(successes, exposure, trials, other)["p_value"]
    for p_value, a, b, x, y in zip(p_values, successes, trials, exposure, other, strict=True):
        assert_allclose(p_value, stats.binomtest(a, a + b, x / (x + y)).pvalue, rtol=1e-9)
    p = rng.random(20) ** 2
    assert_allclose(adjust_p_values(p)["adjusted_p"], stats.false_discovery_control(p), rtol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_hazards_curves_and_laws_tell_the_same_story_of_the_same_rows(seed):
    # one table of spells feeds all: exp(-H) lies above S by less than the ties allow, and a Weibull law runs along
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(3000) < 0.4, rng.uniform(0, 6, 3000), 0)
    life = 10 * rng.weibull(2.0, 3000)
    kept = life > entry + 1e-6
    leaves = np.minimum(life, entry + rng.uniform(2, 9, 3000))
    frame = spells(
        entry=entry[kept].tolist(), exit=leaves[kept].tolist(), event=(life <= leaves)[kept].astype(int).tolist()
    )
    survival, hazard = kaplan_meier(frame), nelson_aalen(frame)
    many = survival["at_risk"].to_numpy() >= 30
    assert_allclose(
        survival["survival"].to_numpy()[many], np.exp(-hazard["cumulative_hazard"].to_numpy())[many], rtol=0.03
    )
    fit = fit_weibull(frame).row(0, named=True)
    law = np.exp(-((survival["time"] / fit["life"]) ** fit["shape"]).to_numpy())
    assert np.abs(law - survival["survival"].to_numpy())[many].max() < 0.06
