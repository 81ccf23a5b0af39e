"""Weibull lives by maximum likelihood: published fits, another library, the slope at the maximum, thin groups."""

import math

import numpy as np
import polars as pl
import pytest
from lifelines import WeibullFitter
from numpy.testing import assert_allclose
from scipy.stats import chi2

from analytics.errors import SpellError
from analytics.estimators import fit_weibull, fit_weibull_residual, life_quantile
from analytics.estimators.life_spells import life_spells
from analytics.estimators.weibull_likelihood import at_shape
from tests.estimators.cases import shared_case, spells, typed

CASES = typed("weibull")
NIST = spells(exit=CASES["nist"]["exit"], event=CASES["nist"]["event"])
NUMBERS = ["shape", "shape_lower", "shape_upper", "life", "life_lower", "life_upper", "log_likelihood"]


def repeated(frame):
    """Rows of a table of classes once per unit: we take no weights."""
    return frame.select(pl.exclude("count").repeat_by("count").explode())


def engines():
    case = CASES["bus_engines"]
    return repeated(spells(exit=case["exit"], exit_lower=case["exit_lower"], count=case["count"]))


def only(frame):
    return frame.row(0, named=True)


def test_agrees_with_the_nist_handbook():
    case, fit = CASES["nist"], only(fit_weibull(NIST))
    assert (fit["units"], fit["failures"], fit["status"]) == (20, 10, "ok")
    assert_allclose(fit["life"], case["printed_life"], atol=1e-3)
    assert_allclose(fit["shape"], case["printed_shape"], atol=6e-5)
    assert_allclose(fit["log_likelihood"], case["printed_log_likelihood"], atol=6e-4)
    assert_allclose(4 - 2 * fit["log_likelihood"], case["printed_aic"], atol=6e-3)
    mean, square = (fit["life"] ** k * math.gamma(1 + k / fit["shape"]) for k in (1, 2))
    assert_allclose([mean, math.sqrt(square - mean**2)], [case["printed_mean"], case["printed_sd"]], atol=0.01)
    for name in ("life", "shape", "log_likelihood"):
        assert_allclose(fit[name], case[name], rtol=case["rtol"])
    for name in ("life", "shape"):
        assert_allclose([fit[name + "_lower"], fit[name + "_upper"]], case[name + "_limits"], rtol=1e-8)
    assert_allclose(only(life_quantile(NIST, 0.1))["life"], case["life10"], rtol=case["rtol"])


@pytest.mark.parametrize("case", CASES["nist_given_shape"], ids=lambda case: f"shape {case['shape']}")
def test_agrees_with_the_nist_units_where_the_shape_is_given(case):
    fit = only(fit_weibull(NIST, shape=case["shape"]))
    assert_allclose(fit["life"], case["life"], rtol=1e-8)
    assert_allclose([fit["life_lower"], fit["life_upper"]], case["limits"], rtol=1e-8)
    one_sided = only(fit_weibull(NIST, shape=case["shape"], confidence=0.90))
    assert_allclose(one_sided["life_lower"], case["lower_one_sided"], rtol=1e-8)
    assert fit["shape_lower"] is None


def test_agrees_with_the_bus_engines_known_to_a_class_of_miles():
    case, fit = CASES["bus_engines"], only(fit_weibull(engines()))
    for name in ("life", "shape", "log_likelihood"):
        assert_allclose(fit[name], case[name], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(only(life_quantile(engines(), 0.1))["life"], case["life10"], rtol=case["rtol"])


def test_agrees_with_the_ball_bearings():
    # Lieblein and Zelen (1956), J. Res. Nat. Bur. Stand. 57, 273-316; case weibull_ball_bearings
    expected, table = shared_case("weibull_ball_bearings")
    fit = only(fit_weibull(table.select(entry=pl.lit(0.0), exit="megacycles", event=pl.lit(1))))
    assert_allclose([fit["life"], fit["shape"]], [expected["eta"], expected["beta"]], rtol=1e-5)
    assert_allclose(fit["log_likelihood"], expected["loglik"], rtol=1e-7)
    assert_allclose([fit["shape_lower"], fit["shape_upper"]], expected["beta_ci95_profile"], rtol=1e-4)
    assert_allclose([fit["life_lower"], fit["life_upper"]], expected["eta_ci95_profile"], rtol=1e-4)


def test_agrees_with_the_cracked_turbine_parts_seen_at_eight_inspections():
    # R survival, tests/r_sas.Rout.save; case weibull_interval_cracks; its printed quantiles: test_published_cases
    expected, table = shared_case("weibull_interval_cracks")
    upper = pl.col("upper").cast(pl.String).replace("inf", None).cast(pl.Float64)
    frame = table.select(
        entry=pl.lit(0.0),
        exit=upper.fill_null(pl.col("lower").cast(pl.Float64)),
        exit_lower=pl.col("lower").cast(pl.Float64),
        event=upper.is_finite().fill_null(value=False).cast(pl.Int64),
        count="count",
    )
    fit = only(fit_weibull(repeated(frame)))
    assert_allclose([fit["life"], fit["shape"]], [expected["eta"], expected["beta"]], rtol=1e-5)
    assert_allclose(fit["log_likelihood"], expected["loglik"], rtol=1e-7)


def test_agrees_with_the_channing_house_residents_who_all_enter_late():
    house = typed("channing_house")["residents"]
    residents = spells(entry=house["entry"], exit=house["exit"], event=house["event"], sex=house["sex"])
    for fit in fit_weibull(residents, by="sex").iter_rows(named=True):
        case = CASES["channing"][fit["sex"]]
        assert_allclose([fit["life"], fit["shape"]], [case["life"], case["shape"]], rtol=1e-5)
        assert_allclose(fit["log_likelihood"], case["log_likelihood"], rtol=1e-7)
        for name in ("life", "shape"):
            assert_allclose([fit[name + "_lower"], fit[name + "_upper"]], case[name + "_limits"], rtol=1e-7)


@pytest.mark.parametrize("seed", range(4))
def test_agrees_with_another_library_on_late_entry_and_censoring(seed):
    rng = np.random.default_rng(seed)
    entry, life = rng.uniform(0, 4, 80), 5 * rng.weibull(1.7, 80) + 0.01
    kept = life > entry
    leaves = entry + rng.uniform(0.5, 5, 80)
    frame = spells(
        entry=entry[kept].tolist(),
        exit=np.minimum(life, leaves)[kept].tolist(),
        event=(life <= leaves)[kept].astype(int).tolist(),
    )
    other = WeibullFitter().fit(frame["exit"].to_numpy(), frame["event"].to_numpy(), entry=frame["entry"].to_numpy())
    fit = only(fit_weibull(frame))
    assert_allclose([fit["life"], fit["shape"]], [other.lambda_, other.rho_], rtol=2e-4)
    # lifelines adds 1e-25-like guards and stops early: our maximum may only be higher
    assert fit["log_likelihood"] >= other.log_likelihood_ - 1e-9
    assert_allclose(fit["log_likelihood"], other.log_likelihood_, rtol=1e-6)


@pytest.mark.parametrize("frame", [NIST, engines()], ids=["exact", "in classes"])
def test_slopes_are_those_of_the_likelihood(frame):
    rows = life_spells(frame, (), returned=(), where="test")
    shape, log_rate, step = np.array([[1.3]]), np.array([[0.4]]), 1e-6
    here = at_shape(rows, shape)
    up, down = at_shape(rows, shape + step), at_shape(rows, shape - step)
    in_shape = (up.log_likelihood(log_rate) - down.log_likelihood(log_rate)) / (2 * step)
    in_rate = (here.log_likelihood(log_rate + step) - here.log_likelihood(log_rate - step)) / (2 * step)
    assert_allclose(here.slope_in_shape(log_rate), in_shape, rtol=1e-6)
    assert_allclose(here.slope_in_log_rate(log_rate), in_rate, rtol=1e-6)


def test_limits_of_a_life_are_where_the_likelihood_ratio_is_the_chi_square():
    # the life is held at its limit and the best shape sought by brute force
    limits = only(life_quantile(NIST, 0.1, confidence=0.9))
    highest = only(fit_weibull(NIST))["log_likelihood"]
    exit_, event = NIST["exit"].to_numpy(), NIST["event"].to_numpy()
    shape = np.linspace(0.2, 8, 40_001)[:, None]
    for side in ("lower", "upper"):
        hazard = -math.log(0.9) * (exit_ / limits[side]) ** shape
        log_likelihood = (event * np.log(shape * hazard / exit_) - hazard).sum(axis=1)
        assert_allclose(2 * (highest - log_likelihood.max()), chi2.ppf(0.9, 1), rtol=1e-5)


def test_all_groups_in_one_pass_give_what_each_gives_alone():
    rng = np.random.default_rng(8)
    frame = pl.DataFrame({"part": rng.choice(["belt", "hose", "seal"], 90), "entry": rng.integers(0, 9, 90)})
    frame = frame.with_columns(
        exit=pl.col("entry") + pl.Series(rng.integers(1, 40, 90)), event=pl.Series(rng.integers(0, 2, 90))
    )
    together = fit_weibull(frame, by="part")
    for name in together["part"]:
        alone = fit_weibull(frame.filter(pl.col("part") == name))
        kept = together.filter(pl.col("part") == name)
        assert_allclose(kept.select(NUMBERS).to_numpy(), alone.select(NUMBERS).to_numpy(), rtol=1e-9)


def test_another_unit_of_time_changes_the_times_only():
    fit, scaled = only(fit_weibull(NIST)), only(fit_weibull(NIST.with_columns(pl.col("entry", "exit") * 86_400)))
    assert_allclose(scaled["life"], fit["life"] * 86_400)
    assert_allclose([scaled["shape"], scaled["shape_upper"]], [fit["shape"], fit["shape_upper"]])


def test_units_of_unknown_age_are_left_out():
    extra = spells(entry=[0, 0], exit=[3, 900], event=[1, 0]).with_columns(age_known=pl.lit(value=False))
    both = pl.concat([NIST.with_columns(age_known=pl.lit(value=True)), extra], how="vertical_relaxed")
    assert_allclose(fit_weibull(both).select(NUMBERS).row(0), fit_weibull(NIST).select(NUMBERS).row(0), rtol=1e-9)
    assert only(fit_weibull(both))["units"] == 20


def test_the_residual_fit_reads_the_same_off_its_grid_where_all_ages_are_known():
    for frame in (NIST, engines()):
        exact, read = only(fit_weibull(frame)), only(fit_weibull_residual(frame))
        assert read["status"] == "ok"
        for name in NUMBERS[:-1]:
            assert_allclose(read[name], exact[name], rtol=0.01, err_msg=name)
        assert_allclose(read["log_likelihood"], exact["log_likelihood"], atol=0.02)


def test_a_silent_fault_seen_good_after_it_ended_is_refused():
    with pytest.raises(SpellError, match="exit_lower is not within entry and exit in 1 of 2 rows: row 2, lower 9"):
        fit_weibull(spells(exit=[5, 7], exit_lower=[2, 9]))
