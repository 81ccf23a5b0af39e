"""Age or distance: what is refused, what is said, and the two likelihoods against SciPy's."""

import math

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.optimize import minimize
from scipy.stats import weibull_min

from analytics.errors import SpellError
from analytics.estimators import choose_scale

YEAR = 365.25


def units(n=40, *, seed=3, spread=0.7, by_distance=False, late=True):
    rng = np.random.default_rng(seed)
    rate = 5 * np.exp(spread * rng.standard_normal(n))
    life = 4000 * rng.weibull(2.5, n) / ((rate / 5) if by_distance else 1)
    entry = np.where(np.arange(n) % 3 == 0, 0.3 * life, 0.0) if late else np.zeros(n)
    leave = np.minimum(life, entry + 5000.0)
    columns = {"age_entry": entry, "age_exit": leave, "distance_entry": entry * rate, "distance_exit": leave * rate}
    return pl.DataFrame({**columns, "event": (life <= entry + 5000.0).astype(int), "slope": rate})


def test_cars_that_wear_by_age_and_by_distance_are_told_apart_in_one_pass():
    both = pl.concat(
        [units().with_columns(part=pl.lit("hose")), units(by_distance=True).with_columns(part=pl.lit("clutch"))]
    )
    found = choose_scale(both, "part")
    assert found.select("part", "verdict", "status").rows() == [("clutch", "distance", "ok"), ("hose", "age", "ok")]
    alone = choose_scale(both.filter(pl.col("part") == "hose"), "part")
    assert found.filter(pl.col("part") == "hose").equals(alone)


@pytest.mark.parametrize(("scale", "name"), [("age", "log_likelihood_age"), ("distance", "log_likelihood_distance")])
def test_the_likelihoods_agree_with_scipy(scale, name):
    rows = units(by_distance=True)
    entry, leave = rows[f"{scale}_entry"].to_numpy(), rows[f"{scale}_exit"].to_numpy()
    failed = rows["event"].to_numpy() == 1

    def against(law):
        shape, life = np.exp(law)
        told = np.where(
            failed, weibull_min.logpdf(leave, shape, scale=life), weibull_min.logsf(leave, shape, scale=life)
        )
        return -(told - weibull_min.logsf(entry, shape, scale=life)).sum()

    start = np.log([2.0, float(np.median(leave))])
    best = minimize(against, start, method="Nelder-Mead", options={"xatol": 1e-8, "fatol": 1e-10, "maxiter": 4000})
    per_day = np.log(rows["slope"].to_numpy())[failed].sum() if scale == "distance" else 0.0
    assert_allclose(choose_scale(rows)[name].item(), per_day - best.fun, atol=5e-3)


def test_units_of_time_and_distance_do_not_matter_to_the_choice():
    rows = units(by_distance=True)
    years = rows.with_columns(pl.col("age_entry", "age_exit") / YEAR, pl.col("distance_entry", "distance_exit") / 1.609)
    years = years.with_columns(slope=pl.col("slope") * YEAR / 1.609)
    here, there = (choose_scale(frame).row(0, named=True) for frame in (rows, years))
    for name in ("theta", "lower", "upper", "verdict"):
        assert here[name] == there[name]
    difference = here["log_likelihood_distance"] - here["log_likelihood_age"]
    assert_allclose(there["log_likelihood_distance"] - there["log_likelihood_age"], difference, rtol=1e-9)


def status(rows):
    found = choose_scale(rows).row(0, named=True)
    if found["status"] != "ok":
        told = ("log_likelihood_age", "log_likelihood_distance", "theta", "lower", "upper")
        assert found["verdict"] == "cannot be told"
        assert all(found[name] is None for name in told)
    return found["status"]


def test_nine_failures_are_too_few_and_ten_are_enough():
    rows = units(200).sort("event", descending=True)
    failed = rows.filter(pl.col("event") == 1)
    censored = rows.filter(pl.col("event") == 0)
    assert status(pl.concat([failed.head(9), censored])) == "too few failures"
    assert status(pl.concat([failed.head(10), censored])) == "ok"


def test_cars_that_are_all_used_alike_cannot_tell():
    assert status(units(spread=0.1)) == "used alike"
    assert status(units(spread=0.6)) == "ok"


def test_rule_29_km_that_failed_units_lack_more_often_refuse_the_choice():
    rows = units(200).with_row_index("k")
    failed = pl.col("event") == 1
    lacking = rows.with_columns(
        pl.when(failed & (pl.col("k") % 5 == 0)).then(None).otherwise("distance_exit").alias("distance_exit")
    )
    found = choose_scale(lacking).row(0, named=True)
    assert found["status"] == "km missing unevenly"
    assert found["failures_without"] == found["units_without"] > 0
    assert found["units"] + found["units_without"] == 200
    evenly = rows.with_columns(pl.when(pl.col("k") % 5 > 0).then("distance_exit").alias("distance_exit"))
    assert status(evenly) == "ok"


def test_no_km_at_all_and_no_units_at_all():
    rows = units().with_columns(pl.lit(None, pl.Float64).alias("distance_exit"))
    assert status(rows) == "no km"
    assert choose_scale(units().clear().with_columns(part=pl.lit("x")), "part").is_empty()
    mixed = pl.concat([units().with_columns(part=pl.lit("b")), rows.with_columns(part=pl.lit("a"))])
    assert choose_scale(mixed, "part")["status"].to_list() == ["no km", "ok"]


@pytest.mark.parametrize("size", [1e-3, 1e9])
def test_times_of_any_size_give_numbers(size):
    rows = units().with_columns(pl.col("^(age|distance)_(entry|exit)$") * size)
    assert status(rows) == "ok"


def test_all_failed_at_one_age_gives_an_answer_and_no_infinity():
    rows = units(spread=0.8, late=False).with_columns(age_exit=pl.lit(1000.0), event=pl.lit(1))
    rows = rows.with_columns(distance_exit=1000.0 * pl.col("slope"))
    found = choose_scale(rows).row(0, named=True)
    assert found["verdict"] == "age"
    assert math.isfinite(found["log_likelihood_age"])


def test_silent_faults_need_no_slope_and_must_be_intervals_on_both_scales():
    rows = units(80).with_columns(age_exit_lower=pl.col("age_exit") - 300.0)
    rows = rows.with_columns(distance_exit_lower=pl.col("distance_exit") - 300.0 * pl.col("slope"))
    rows = rows.with_columns(
        pl.max_horizontal("age_exit_lower", "age_entry").alias("age_exit_lower"),
        pl.max_horizontal("distance_exit_lower", "distance_entry").alias("distance_exit_lower"),
    )
    found = choose_scale(rows).row(0, named=True)
    assert (found["verdict"], found["status"]) == ("age", "ok")
    with pytest.raises(SpellError, match="one scale only"):
        choose_scale(rows.with_columns(pl.lit(None, pl.Float64).alias("distance_exit_lower")))
    with pytest.raises(SpellError, match="slope is not above 0"):
        choose_scale(units().with_columns(slope=pl.lit(0.0)))
