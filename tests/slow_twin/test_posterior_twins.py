"""Posteriors, survival, the choice between own law, family and bound, and forecasts, on generated fleets."""

import math

import numpy as np
import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import (
    LifeLaws,
    fit_family,
    forecast_laws,
    life_models,
    life_posterior,
    survival_posterior,
)
from tests.estimators.cases import spells
from tests.slow_twin.life_law import bound_point, posterior_points

SHARES = (0.05, 0.5, 0.95)


def unit(given_):
    entry, stay, end = given_
    return entry, entry + stay, int(end != "running"), entry + stay // 2 if end == "found" else None


UNIT = st.tuples(st.integers(0, 9), st.integers(1, 30), st.sampled_from(["failed", "running", "found"])).map(unit)
UNITS = st.lists(UNIT, min_size=2, max_size=9)
FLEET = st.lists(st.lists(st.integers(1, 40), max_size=6), min_size=4, max_size=6)


def frame(units):
    entry, leave, event, lower = zip(*units, strict=True)
    return spells(entry=list(entry), exit=list(leave), event=list(event), exit_lower=list(lower))


def lives(failed):
    return lambda shape, life: life * (-math.log1p(-failed)) ** (1 / shape)


@settings(max_examples=10)
@given(UNITS)
def test_posteriors_of_lives(units):
    row = life_posterior(frame(units)).row(0, named=True)
    if row["failures"] == 0:
        assert_allclose(row["life50_lower"], bound_point(units, 0.05), rtol=0.02)
        return
    for name, failed in {"life10": 0.1, "life50": 0.5}.items():
        points = posterior_points(units, lives(failed), SHARES)
        found = [row[name + side] for side in ("_lower", "", "_upper")]
        if found[2] is None:
            assert points[2] > 18 * points[0], name
            found, points = found[:2], points[:2]
        # at one or two failures the outer points lie where both grids end
        assert_allclose(np.log(found), np.log(points), atol=0.12, err_msg=name)


@settings(max_examples=10)
@given(UNITS, st.integers(1, 40))
def test_posteriors_of_survival(units, age):
    row = survival_posterior(frame(units), [age]).row(0, named=True)
    if row["survival"] is not None:
        points = posterior_points(units, lambda b, life: np.exp(-((age / life) ** b)), SHARES)
        assert_allclose([row["lower"], row["survival"], row["upper"]], points, atol=0.02)


def fleet(failed_at):
    """Components of one family, each with some failures and six units that still run."""
    return pl.concat(
        spells(exit=[*failed, *[40] * 6], event=[1] * len(failed) + [0] * 6).with_columns(
            component=pl.lit(f"c{place}"), family=pl.lit("hoses")
        )
        for place, failed in enumerate(failed_at)
    )


@settings(max_examples=8)
@given(FLEET)
def test_which_law_a_component_is_shown_by_the_rule_for_few_failures(failed_at):
    rows = fleet(failed_at)
    own = {row["component"]: row for row in life_posterior(rows, "component").iter_rows(named=True)}
    pooled = {row["component"]: row for row in fit_family(rows, "component").iter_rows(named=True)}
    usable = len(failed_at) >= 4 and sum(bool(failed) for failed in failed_at) >= 3
    for row in life_models(rows, "component", "family")[0].iter_rows(named=True):
        failures = len(failed_at[int(row["component"][1:])])
        mine, theirs = own[row["component"]], pooled[row["component"]]
        if failures == 0:
            wanted, basis = mine, "bound only"
        elif failures < 5 and usable and theirs["status"] != "unlike family":
            wanted, basis = theirs, "family"
        else:
            wanted, basis = mine, "own"
        assert row["basis"] == basis
        assert (row["status"] == "unlike family") == (
            basis == "own" and failures < 5 and usable and theirs["status"] == "unlike family"
        )
        for name in ("life10_lower", "life50", "life50_upper"):
            assert (row[name] is None) == (wanted[name] is None)
            if wanted[name] is not None:
                assert_allclose(row[name], wanted[name], rtol=1e-8)


@settings(max_examples=8)
@given(FLEET, st.integers(5, 60))
def test_draws_of_a_forecast_say_what_all_weights_say(failed_at, age):
    laws = forecast_laws(fleet(failed_at), "component", "family")
    assert isinstance(laws, LifeLaws)
    cells = laws.heaviest(laws.weight[0].size)
    drawn = laws.draws(1500, "seed")

    def survival(table):
        return table.with_columns(s=(-((age / pl.col("life")) ** pl.col("shape"))).exp())

    weighed = survival(cells).group_by("component").agg(s=(pl.col("s") * pl.col("weight")).sum()).sort("component")
    counted = survival(drawn).group_by("component").agg(s=pl.col("s").mean()).sort("component")
    assert_allclose(counted["s"], weighed["s"], atol=0.012)
    for component, weights in cells.group_by("component"):
        assert_allclose(weights["weight"].sum(), 1, rtol=1e-9, err_msg=str(component))
        assert weights["weight"].is_sorted(descending=True)


@settings(max_examples=4)
@given(FLEET)
def test_a_family_lends_by_the_plain_sum_over_its_populations(failed_at):
    """Populations with a centre and a spread of shape and life, drawn at random instead of laid on a grid."""
    rows = fleet(failed_at)
    rng = np.random.default_rng(0)
    pooled = fit_family(rows, "component")
    # 3,000 populations; of each, 60 laws per member: the member's likelihood averaged, then weighed with the others'
    count, each = 3000, 60
    spread = np.abs(rng.normal(0, 0.5, count)).clip(0.1, 1.1), np.abs(rng.normal(0, 0.3, count)).clip(0.1, 0.6)
    centre = rng.uniform(-3.5, 3.8, count), rng.normal(math.log(1.5), 1.0, count).clip(math.log(0.5), math.log(5))
    noise = rng.standard_t(2, (2, len(failed_at), count, each))
    log_life = np.log(40) + centre[0][:, None] + spread[0][:, None] * noise[0]
    log_shape = (centre[1][:, None] + spread[1][:, None] * noise[1]).clip(math.log(0.25), math.log(12))
    likelihood = np.array(
        [
            _likelihood(failed, np.exp(bend), life)
            for failed, bend, life in zip(failed_at, log_shape, log_life, strict=True)
        ]
    )
    evidence = likelihood.mean(axis=2)
    others = np.exp(np.log(evidence + 1e-300).sum(axis=0) - np.log(evidence + 1e-300))
    for place, row in enumerate(pooled.iter_rows(named=True)):
        if row["life50"] is None:
            continue
        weight = (likelihood[place] * others[place][:, None]).ravel()
        order = np.argsort(log_life[place].ravel())
        below = np.cumsum(weight[order]) / weight.sum()
        middle = np.interp(0.5, below, log_life[place].ravel()[order])
        # Monte Carlo errors are about 0.05, more without a failure; the members' own posteriors lie off by 0.2 to 4
        assert abs(math.log(row["life50"]) - middle) < (0.2 if failed_at[place] else 0.4)


def _likelihood(failed, shape, log_life50):
    hazard = math.log(2) * np.exp(np.clip(shape * (math.log(40) - log_life50), -700, 600)) * 6
    total = -hazard
    for t in failed:
        log_hazard = math.log(math.log(2)) + np.clip(shape * (math.log(t) - log_life50), -700, 600)
        total = total + np.log(shape / t) + log_hazard - np.exp(log_hazard)
    return np.exp(np.maximum(total, -700))
