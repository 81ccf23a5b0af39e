"""The ratio of two median lives: against a plain double sum, turned round, and where little is known."""

import math

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from analytics.estimators import life_ratios, models_and_laws
from analytics.estimators.life_ratio import LEAST_P
from analytics.parameters import Parameters

PARAMETERS = Parameters()
UNIT = st.tuples(st.integers(0, 20), st.integers(1, 60), st.booleans())
GROUP = st.lists(UNIT, min_size=8, max_size=25)


def laws_of(*groups):
    rows = [(k, entry, entry + time, int(event)) for k, group in enumerate(groups) for entry, time, event in group]
    frame = pl.DataFrame(rows, schema=["group", "entry", "exit", "event"], orient="row")
    return models_and_laws(frame, "group", parameters=PARAMETERS)[2]


def ratio(laws, first=0, second=1):
    return life_ratios(laws, np.array([first]), np.array([second]), PARAMETERS).row(0, named=True)


def plain_share_below(laws, bound):
    """Chance that life50 of the second is less than `bound` times that of the first: a sum over pairs of cells."""
    weight = laws.weight.sum(axis=1)
    log_life = np.log(laws.yardstick)[:, None] + laws.log_life50
    step = log_life[1, 1] - log_life[1, 0]
    total = 0.0
    for a, of_a in zip(log_life[0], weight[0], strict=True):
        for b, of_b in zip(log_life[1], weight[1], strict=True):
            total += of_a * of_b * min(1.0, max(0.0, (a + math.log(bound) - (b - step / 2)) / step))
    return total


@settings(max_examples=15)
@given(GROUP, GROUP)
def test_limits_and_p_value_agree_with_a_plain_double_sum(first, second):
    laws = laws_of(first, second)
    row = ratio(laws)
    if row["status"] != "ok":
        assert row["life_ratio"] is None
        return
    for name, share in (("lower", 0.05), ("life_ratio", 0.5), ("upper", 0.95)):
        assert plain_share_below(laws, row[name]) == pytest.approx(share, abs=1e-6)
    below = plain_share_below(laws, 1.0)
    assert row["p_value"] == pytest.approx(max(2 * min(below, 1 - below), LEAST_P), abs=1e-9)
    assert (row["p_value"] < 0.10) == (row["lower"] > 1 or row["upper"] < 1)


@settings(max_examples=15)
@given(GROUP, GROUP)
def test_turned_round_the_ratio_is_the_inverse(first, second):
    laws = laws_of(first, second)
    there, back = ratio(laws), ratio(laws, 1, 0)
    assert there["status"] == back["status"]
    if there["status"] == "ok":
        # which of the two lives is spread over its cell differs
        assert_allclose(back["life_ratio"], 1 / there["life_ratio"], rtol=0.03)
        assert_allclose(back["lower"], 1 / there["upper"], rtol=0.05)
        assert back["p_value"] == pytest.approx(there["p_value"], abs=0.01)


def test_a_group_against_itself_is_one_and_not_different():
    row = ratio(laws_of(*[[(0, 10 + k, True) for k in range(12)]] * 2))
    assert row["life_ratio"] == pytest.approx(1.0, abs=0.01)
    assert row["p_value"] > 0.95


def test_a_group_without_failure_keeps_one_limit_and_never_speaks_for_a_shorter_life():
    worn, whole = [(0, 10 + k, True) for k in range(12)], [(0, 60, False)] * 12
    row = ratio(laws_of(worn, whole))
    assert (row["status"], row["life_ratio"], row["upper"]) == ("bound only", None, None)
    assert row["lower"] > 2
    assert row["p_value"] < 0.01
    turned = ratio(laws_of(whole, worn))
    assert (turned["lower"], turned["upper"]) == (None, pytest.approx(1 / row["lower"], rel=0.05))
    hardly_watched = ratio(laws_of(worn, [(0, 1, False)] * 2))
    assert hardly_watched["p_value"] == 1.0


def test_fewer_than_five_failures_on_both_sides_are_too_few():
    few = [(0, 10 + k, k < 4) for k in range(12)]
    assert ratio(laws_of(few, few)) == {
        "life_ratio": None,
        "lower": None,
        "upper": None,
        "p_value": None,
        "status": "too few",
    }
    five = [(0, 10 + k, k < 5) for k in range(12)]
    assert ratio(laws_of(few, five))["status"] == "ok"


def test_no_pairs_and_lives_far_apart_give_no_error_and_no_infinity():
    laws = laws_of([(0, 10 + k, True) for k in range(12)], [(0, 10**9 + k, True) for k in range(12)])
    none = np.array([], dtype=np.int64)
    assert life_ratios(laws, none, none, PARAMETERS).is_empty()
    row = ratio(laws)
    assert all(math.isfinite(row[name]) for name in ("life_ratio", "lower", "upper"))
    assert row["p_value"] == LEAST_P
