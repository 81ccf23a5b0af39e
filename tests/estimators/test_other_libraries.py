"""The same figures from general-purpose libraries on random data: lifelines 0.30, statsmodels 0.14 or newer."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import (
    adjust_p_values,
    cumulative_incidence,
    kaplan_meier,
    log_rank,
    nelson_aalen,
    proportion,
    rate,
    rate_ratio,
    restricted_mean,
)

lifelines = pytest.importorskip("lifelines")
statsmodels = pytest.importorskip("statsmodels.api")

# both libraries warn about their own use of pandas and numpy
pytestmark = pytest.mark.filterwarnings("ignore")

SEEDS = range(5)


def lives(seed, units=200, late=True):
    """Random lives with ties; few enter late, and none of those before it is risky to."""
    rng = np.random.default_rng(seed)
    entry = np.where(rng.random(units) < 0.4, rng.integers(0, 30, units), 0) * late
    return pl.DataFrame(
        {
            "kind": rng.choice(["a", "b", "c"], units),
            "entry": entry,
            "exit": entry + np.ceil(rng.weibull(1.5, units) * 50).astype(int),
            "event": rng.integers(0, 4, units) > 0,
            "why": rng.choice([1, 2, 3], units),
        }
    ).with_columns(pl.col("event").cast(pl.Int64))


@pytest.mark.parametrize("seed", SEEDS)
def test_product_limit_curve_with_late_entry_agrees_with_lifelines(seed):
    frame = lives(seed)
    fitted = lifelines.KaplanMeierFitter().fit(frame["exit"], frame["event"], entry=frame["entry"].to_numpy())
    curve = kaplan_meier(frame)
    other = fitted.survival_function_.loc[curve["time"].to_numpy()].to_numpy()[:, 0]
    assert_allclose(curve["survival"], other, rtol=1e-9)
    limits = fitted.confidence_interval_.loc[curve["time"].to_numpy()].to_numpy()
    alive = curve["survival"].to_numpy() > 0
    assert_allclose(curve.select("lower", "upper").to_numpy()[alive], limits[alive], rtol=1e-6)


@pytest.mark.parametrize("seed", SEEDS)
def test_product_limit_error_agrees_with_statsmodels(seed):
    frame = lives(seed, late=False)
    fitted = statsmodels.SurvfuncRight(frame["exit"].to_numpy(), frame["event"].to_numpy())
    curve = kaplan_meier(frame)
    alive = curve["survival"].to_numpy() > 0
    assert_allclose(curve["survival"], fitted.surv_prob, rtol=1e-9, atol=1e-12)
    assert_allclose(curve["std_error"].to_numpy()[alive], fitted.surv_prob_se[alive], rtol=1e-9)
    assert_allclose(curve["at_risk"], fitted.n_risk)


@pytest.mark.parametrize("seed", SEEDS)
def test_cumulative_hazard_agrees_with_lifelines(seed):
    frame = lives(seed)
    fitter = lifelines.NelsonAalenFitter(nelson_aalen_smoothing=False)
    fitted = fitter.fit(frame["exit"], frame["event"], entry=frame["entry"].to_numpy())
    curve = nelson_aalen(frame)
    other = fitted.cumulative_hazard_.loc[curve["time"].to_numpy()].to_numpy()[:, 0]
    assert_allclose(curve["cumulative_hazard"], other, rtol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize(
    ("weights", "theirs"), [("none", None), ("gehan", "wilcoxon"), ("tarone-ware", "tarone-ware"), ("peto", "peto")]
)
def test_log_rank_of_three_groups_agrees_with_lifelines(seed, weights, theirs):
    frame = lives(seed, late=False)
    other = lifelines.statistics.multivariate_logrank_test(
        frame["exit"].to_numpy(), frame["kind"].to_numpy(), frame["event"].to_numpy(), weightings=theirs
    )
    result = log_rank(frame, "kind", weights)
    assert_allclose(result["statistic"][0], other.test_statistic, rtol=1e-8)
    assert_allclose(result["p_value"][0], other.p_value, rtol=1e-7)
    assert result["df"][0] == 2


@pytest.mark.parametrize("seed", SEEDS)
def test_restricted_mean_agrees_with_lifelines(seed):
    frame = lives(seed, late=False)
    fitted = lifelines.KaplanMeierFitter().fit(frame["exit"], frame["event"])
    other = lifelines.utils.restricted_mean_survival_time(fitted, t=40)
    assert_allclose(restricted_mean(frame, 40)["mean"][0], other, rtol=1e-9)


@pytest.mark.parametrize("seed", SEEDS)
@pytest.mark.parametrize("cause", [1, 2, 3])
def test_incidence_of_a_cause_with_late_entry_agrees_with_lifelines(seed, cause):
    # there ties are moved apart and who enters at a failure is at risk then: here every time is made its own
    frame = lives(seed).with_columns(pl.col("entry") * 1000, pl.col("exit") * 1000 + pl.int_range(pl.len()) + 1)
    fitted = lifelines.AalenJohansenFitter(calculate_variance=False, jitter_level=0).fit(
        frame["exit"].to_numpy(),
        (frame["why"] * frame["event"]).to_numpy(),
        event_of_interest=cause,
        entry=frame["entry"].to_numpy(),
    )
    curve = cumulative_incidence(frame, "why").filter(pl.col("cause") == cause)
    other = fitted.cumulative_density_.loc[curve["time"].to_numpy()].to_numpy()[:, 0]
    assert_allclose(curve["incidence"], other, rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_incidence_of_tied_causes_agrees_with_statsmodels(seed):
    frame = lives(seed, late=False)
    from statsmodels.duration.survfunc import CumIncidenceRight

    fitted = CumIncidenceRight(frame["exit"].to_numpy(), (frame["why"] * frame["event"]).to_numpy())
    result = cumulative_incidence(frame, "why")
    for cause in (1, 2, 3):
        curve = result.filter(pl.col("cause") == cause)
        rows = np.searchsorted(fitted.times, curve["time"].to_numpy())
        assert_allclose(curve["incidence"], fitted.cinc[cause - 1][rows], rtol=1e-9, atol=1e-12)


@pytest.mark.parametrize("seed", SEEDS)
def test_exact_limits_and_p_values_agree_with_statsmodels(seed):
    from statsmodels.stats import proportion as shares
    from statsmodels.stats import rates
    from statsmodels.stats.multitest import multipletests

    rng = np.random.default_rng(seed)
    trials = rng.integers(1, 60, 20)
    successes = rng.binomial(trials, 0.3)
    ours = proportion(successes, trials, confidence=0.90).select("lower", "upper").to_numpy()
    assert_allclose(ours, np.column_stack(shares.proportion_confint(successes, trials, 0.10, "beta")), atol=1e-12)

    exposure = rng.uniform(1, 50, 20)
    for count, time, row in zip(successes, exposure, rate(successes, exposure).iter_rows(), strict=True):
        assert_allclose(row[1:3], rates.confint_poisson(count, time, method="exact-c"), rtol=1e-9, atol=1e-12)

    other = rng.uniform(1, 50, 20)
    table = rate_ratio(successes, exposure, trials, other)
    for index, p in enumerate(table["p_value"]):
        theirs = rates.test_poisson_2indep(
            successes[index], exposure[index], trials[index], other[index], method="exact-cond"
        )
        assert_allclose(p, theirs.pvalue, rtol=1e-7)

    p = rng.random(30) ** 2
    for method, name in (("bh", "fdr_bh"), ("holm", "holm")):
        assert_allclose(adjust_p_values(p, method)["adjusted_p"], multipletests(p, method=name)[1], rtol=1e-12)
