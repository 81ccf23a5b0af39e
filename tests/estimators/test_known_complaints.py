"""What users of general libraries complain of, where no other test here asks it: one test for each complaint.

The others stand with their estimators: late entry tied with a failure, limits inside 0 and 1, gaps in the risk set,
ties of causes without random jitter, robust errors, all failed at one time, all times zero, interval-only lives.
"""

import inspect
import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.stats import chi2

from analytics import estimators
from analytics.estimators import (
    cumulative_incidence,
    fails_within,
    fit_weibull,
    kaplan_meier,
    life_posterior,
    mean_cumulative_function,
    restricted_mean,
)
from tests.estimators.cases import spells


def test_numbers_at_risk_rise_when_units_enter_late():
    curve = kaplan_meier(spells(entry=[0, 0, 3, 3, 3, 8], exit=[2, 9, 5, 6, 9, 12]))
    assert curve["at_risk"].to_list() == [2, 4, 3, 3, 1]


def test_no_estimator_takes_weights_that_would_count_one_unit_as_many():
    for name in estimators.__all__:
        taken = set(inspect.signature(getattr(estimators, name)).parameters)
        assert not taken & {"weight", "frequency", "counts", "robust"}, name
        assert "weights" not in taken or name == "log_rank"  # there it names how failure times count
    rows = spells(exit=[3, 5, 8], event=[1, 0, 1])
    told = kaplan_meier(rows.with_columns(weight=pl.Series([10_000, 1, 1])))
    assert told.equals(kaplan_meier(rows))


def test_one_failure_among_five_old_units_is_too_few_for_a_fit_and_enough_for_a_lower_limit():
    few = spells(exit=[13_467, 13_760, 12_011, 7_798, 7_928], event=[1, 0, 0, 0, 0])
    assert fit_weibull(few).select("shape", "life", "status").row(0) == (None, None, "too few")
    row = life_posterior(few).row(0, named=True)
    assert row["status"] == "upper open"
    assert 0 < row["life10_lower"] < row["life50_lower"] < row["life50"]


def test_lives_from_thousandths_to_a_billion_times_longer_keep_their_shape():
    lives = 7 * np.random.default_rng(3).weibull(1.7, 40)
    fits = [fit_weibull(spells(exit=(lives * unit).tolist())).row(0, named=True) for unit in (1e-3, 1.0, 1e9)]
    for fit, unit in zip(fits, (1e-3, 1.0, 1e9), strict=True):
        for name in ("shape", "shape_lower", "shape_upper"):
            assert_allclose(fit[name], fits[1][name], rtol=1e-9)
        assert_allclose([fit["life"], fit["life_upper"]], [fits[1]["life"] * unit, fits[1]["life_upper"] * unit])


@pytest.mark.parametrize("failures", [1, 5])
def test_a_given_shape_divides_by_the_failures_and_bounds_by_chi_square(failures):
    # life^shape = W / r; limits 2 W / chi-square with 2 r + 2 and 2 r degrees of freedom
    exits = [3.0, 4.0, 6.0, 7.0, 9.0, 9.0]
    fit = fit_weibull(spells(exit=exits, event=[1] * failures + [0] * (6 - failures)), shape=1.8, confidence=0.9)
    watched = sum(t**1.8 for t in exits)
    row = fit.row(0, named=True)
    assert_allclose(row["life"], (watched / failures) ** (1 / 1.8))
    degrees = {"life_lower": chi2.ppf(0.95, 2 * failures + 2), "life_upper": chi2.ppf(0.05, 2 * failures)}
    for name, point in degrees.items():
        assert_allclose(row[name], (2 * watched / point) ** (1 / 1.8), rtol=1e-7)


def test_a_survival_too_small_for_a_float_costs_no_likelihood():
    # lives without memory: the same stretches watched a thousand lives later say the same, S there is exp(-1000)
    stay, event = [3.0, 5.0, 8.0, 2.0], [1, 1, 0, 1]
    early = spells(exit=stay, event=event, exit_lower=[1.0, 5.0, None, 0.5])
    late = early.with_columns(pl.col("entry", "exit", "exit_lower") + 6000.0)
    one, other = (fit_weibull(frame, shape=1.0).row(0, named=True) for frame in (early, late))
    for name in ("life", "life_lower", "life_upper", "log_likelihood"):
        assert_allclose(other[name], one[name], rtol=1e-8, err_msg=name)


@pytest.mark.parametrize("joined_at", [None, 12.0, math.inf])
@pytest.mark.parametrize("shape", [0.8, 2.0, 4.0])
def test_failing_within_two_horizons_is_surviving_neither(shape, joined_at):
    first, second, both = (
        fails_within(shape, 10.0, age, horizon, joined_at=joined_at) for age, horizon in ((4, 3), (7, 2), (4, 5))
    )
    assert_allclose(1 - both, (1 - first) * (1 - second), rtol=1e-9)
    assert fails_within(shape, 10.0, 4.0, 0.0, joined_at=joined_at) == 0


def test_a_hopeless_group_does_not_stop_the_others():
    good = spells(exit=[3, 5, 6, 9, 11], event=[1, 1, 0, 1, 1], part="good")
    bad = {"one time": spells(exit=[7] * 5), "none failed": spells(exit=[3, 4], event=0), "one": spells(exit=[2])}
    frame = pl.concat([good, *(rows.with_columns(part=pl.lit(name)) for name, rows in bad.items())])
    fits = fit_weibull(frame, by="part")
    status = dict(fits.select("part", "status").iter_rows())
    assert status == {"good": "ok", "none failed": "too few", "one": "too few", "one time": "no finite estimate"}
    alone = fit_weibull(good).row(0, named=True)
    among = fits.filter(part="good").row(0, named=True)
    assert_allclose([among["shape"], among["life_lower"]], [alone["shape"], alone["life_lower"]], rtol=1e-9)


def test_ties_of_causes_give_the_same_figures_on_every_run_and_in_every_order():
    rng = np.random.default_rng(9)
    frame = spells(
        exit=rng.integers(1, 6, 80).tolist(),
        event=rng.integers(0, 2, 80).tolist(),
        why=rng.choice(["leak", "wear", "crack"], 80).tolist(),
    )
    first = cumulative_incidence(frame, "why")
    assert first.equals(cumulative_incidence(frame, "why"))
    assert first.equals(cumulative_incidence(frame.reverse(), "why"))


def test_the_error_of_a_restricted_mean_is_the_one_seen_over_many_fleets():
    # 400 fleets of 60, fixed seed: the spread of the means against the error stated, not the spread of lives
    rng = np.random.default_rng(12)
    life, stop = 10 * rng.weibull(1.5, (400, 60)), rng.uniform(4, 20, (400, 60))
    fleets = pl.DataFrame(
        {
            "fleet": np.repeat(np.arange(400), 60),
            "entry": 0.0,
            "exit": np.minimum(life, stop).ravel(),
            "event": (life <= stop).astype(int).ravel(),
        }
    )
    result = restricted_mean(fleets, 8.0, by="fleet").drop_nulls("mean")
    assert result["std_error"].mean() == pytest.approx(result["mean"].std(), rel=0.12)
    truth = np.trapezoid(np.exp(-((np.linspace(0, 8, 4001) / 10) ** 1.5)), dx=8 / 4000)
    assert result["mean"].mean() == pytest.approx(truth, rel=0.01)


def test_failures_again_and_again_are_no_lives_and_units_that_enter_late_do_count():
    again = spells(entry=[0, 4], exit=[4, 9], event=[2, 1], car=["a", "a"])
    with pytest.raises(ValueError, match="event is not 0 to 1"):
        kaplan_meier(again)
    with_late = pl.concat([again, spells(entry=[3], exit=[9], event=[0], car=["b"])], how="vertical_relaxed")
    counts = mean_cumulative_function(with_late, cluster="car")
    assert counts.select("time", "at_risk", "mcf").rows() == [(4, 2, 1.0), (9, 2, 1.5)]
