"""Curves, means and tests against their plain twins: ties, late entry, gaps, single failures, several groups."""

from math import sqrt

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import cumulative_incidence, kaplan_meier, log_rank, nelson_aalen, restricted_mean
from tests.slow_twin import survival

SPELL = st.tuples(st.integers(0, 6), st.integers(1, 7), st.integers(0, 1)).map(lambda s: (s[0], s[0] + s[1], s[2]))
GROUPS = st.lists(st.lists(SPELL, min_size=1, max_size=9), min_size=1, max_size=3)
CAUSED = st.lists(
    st.tuples(SPELL, st.sampled_from(["leak", "crack"])).map(lambda s: (s[0][0], s[0][1], s[1] if s[0][2] else None)),
    min_size=1,
    max_size=12,
)


def framed(groups):
    rows = [(f"g{index}", *spell) for index, spells in enumerate(groups) for spell in spells]
    return pl.DataFrame(rows, schema=["kind", "entry", "exit", "event"], orient="row")


def compared(frame, columns, groups, twin):
    """The estimator's rows of each group equal the twin's, None for null."""
    for index, spells in enumerate(groups):
        rows = frame.filter(pl.col("kind") == f"g{index}").select(columns).rows()
        wanted = twin(spells)
        assert len(rows) == len(wanted)
        for row, expected in zip(rows, wanted, strict=True):
            assert [value is None for value in row] == [value is None for value in expected]
            numbers = [[value for value in values if value is not None] for values in (row, expected)]
            assert_allclose(*numbers, rtol=1e-10, atol=1e-13)


@given(GROUPS)
def test_product_limit_curves(groups):
    columns = ["time", "at_risk", "events", "censored", "survival", "std_error"]
    compared(kaplan_meier(framed(groups), by="kind"), columns, groups, survival.product_limit)


@given(GROUPS)
def test_cumulative_hazards(groups):
    columns = ["time", "at_risk", "events", "cumulative_hazard", "std_error"]
    compared(nelson_aalen(framed(groups), by="kind"), columns, groups, survival.cumulative_hazard)


@given(GROUPS, st.integers(1, 14))
def test_restricted_means(groups, horizon):
    result = restricted_mean(framed(groups), horizon, by="kind")
    compared(result, ["mean", "std_error"], groups, lambda spells: [survival.restricted_mean(spells, horizon)])


@given(GROUPS, st.integers(0, 10))
def test_curves_conditional_on_lasting(groups, start):
    later = [[(max(a, start), b, e) for a, b, e in spells if b > start] for spells in groups]
    curve = kaplan_meier(framed(groups), by="kind", start=start)
    compared(curve, ["time", "survival"], later, lambda spells: [row[::4] for row in survival.product_limit(spells)])


@given(GROUPS, st.sampled_from(["none", "gehan", "peto"]))
def test_log_rank_statistics(groups, weights):
    weight = {"none": survival.evenly, "gehan": survival.pooled_at_risk, "peto": survival.still_working}[weights]
    statistic, rank = survival.log_rank(groups, weight)
    result = log_rank(framed(groups), "kind", weights).row(0, named=True)
    assert result["status"] == ("ok" if rank else "too few")
    assert result["df"] == (rank or None)
    if rank:
        assert_allclose(result["statistic"], statistic, rtol=1e-7, atol=1e-10)


@given(CAUSED)
def test_incidences_of_two_causes(spells):
    frame = pl.DataFrame(spells, schema=["entry", "exit", "why"], orient="row", schema_overrides={"why": pl.String})
    frame = frame.with_columns(event=pl.col("why").is_not_null().cast(pl.Int64))
    result = cumulative_incidence(frame, "why")
    for cause in {why for *_, why in spells if why}:
        rows = result.filter(pl.col("cause") == cause).select("time", "incidence", "std_error").rows()
        assert_allclose(rows, survival.incidence(spells, cause), rtol=1e-9, atol=2e-8)


def incidence_with_weights(spells, cause, weights, time):
    """Incidence of a cause by a time when each spell counts as much as its weight."""
    left, reached = 1.0, 0.0
    for moment in sorted({x for _, x, why in spells if why and x <= time}):
        n = sum(w for (a, x, _), w in zip(spells, weights, strict=True) if a < moment <= x)
        failed = [(why, w) for (_, x, why), w in zip(spells, weights, strict=True) if x == moment and why]
        reached += left * sum(w for why, w in failed if why == cause) / n
        left *= 1 - sum(w for _, w in failed) / n
    return reached


@settings(max_examples=40)
@given(CAUSED)
def test_error_of_an_incidence_is_what_leaving_out_a_little_of_each_unit_says(spells):
    # infinitesimal jackknife, the error R's survfit reports; equal to ours where nobody enters late
    spells = [(0, x, why) for _, x, why in spells]
    frame = pl.DataFrame(spells, schema=["entry", "exit", "why"], orient="row", schema_overrides={"why": pl.String})
    frame = frame.with_columns(event=pl.col("why").is_not_null().cast(pl.Int64))
    step = 1e-4
    for row in cumulative_incidence(frame, "why").rows(named=True):
        influence = []
        for index in range(len(spells)):
            sides = []
            for sign in (1, -1):
                weights = [1 + sign * step * (place == index) for place in range(len(spells))]
                sides.append(incidence_with_weights(spells, row["cause"], weights, row["time"]))
            influence.append((sides[0] - sides[1]) / (2 * step))
        assert_allclose(row["std_error"], sqrt(sum(value**2 for value in influence)), rtol=1e-5, atol=1e-6)


@given(GROUPS)
def test_limits_bracket_the_estimate_and_groups_do_not_touch_each_other(groups):
    frame = framed(groups)
    curve = kaplan_meier(frame, by="kind")
    known = curve.drop_nulls()
    assert known["lower"].is_between(0, known["survival"]).all()
    assert known["upper"].is_between(known["survival"], 1).all()
    alone = [kaplan_meier(frame.filter(pl.col("kind") == f"g{index}"), by="kind") for index in range(len(groups))]
    assert pl.concat(alone).equals(curve)
