"""Rates, ratios and proportions: published exact limits, empty cells, refusals."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy import stats

from analytics.errors import SpellError
from analytics.estimators import proportion, rate, rate_ratio, shrunken_ratio, standardised_ratio
from tests.estimators.cases import typed

CASES = typed("counts")


def test_rate_has_garwoods_limits():
    case = CASES["garwood"]
    table = rate(case["counts"], 1.0)
    assert_allclose(table["lower"], case["lower"], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(table["upper"], case["upper"], rtol=case["rtol"], err_msg=case["source"])
    # Pearson and Hartley, table 40: 0 gives 3.689, 10 gives 4.795 to 18.39
    assert [round(value, 3) for value in (table["upper"][0], table["lower"][5], table["upper"][5])] == [
        3.689,
        4.795,
        18.39,
    ]


@pytest.mark.parametrize("percent", [60, 80, 90, 95])
def test_rate_limits_turned_over_are_the_handbooks_factors_of_the_time_between_failures(percent):
    case = CASES["mtbf_factors"]
    failures = np.array(case["failures"])
    table = rate(failures, 1.0, confidence=percent / 100)
    factors = np.column_stack([failures / table["upper"].to_numpy(), failures / table["lower"].to_numpy()])
    assert_allclose(factors, case[f"conf{percent}"], rtol=case["rtol"], err_msg=case["source"])


def test_a_rate_is_per_exposure_and_one_number_serves_all_rows():
    table = rate(pl.Series([4, 8]), 200.0)
    assert table["rate"].to_list() == [0.02, 0.04]
    assert_allclose(table["lower"], rate([4, 8], 1.0)["lower"] / 200)


def test_no_event_tells_an_upper_limit_only():
    assert rate(0, 10.0).select("rate", "lower", "status").row(0) == (0.0, 0.0, "bound only")
    assert_allclose(rate(0, 10.0, confidence=0.90)["upper"], -np.log(0.05) / 10)


def test_no_exposure_or_null_tells_nothing():
    table = rate([0, 3, None], pl.Series([0.0, 0.0, 5.0]))
    assert table.rows() == [(None, None, None, "too few")] * 3


def test_rate_ratio_agrees_with_the_cited_limits_and_p_value():
    case = CASES["rate_ratio"]
    table = rate_ratio(case["events"][0], case["exposure"][0], case["events"][1], case["exposure"][1])
    assert_allclose(table["ratio"], case["ratio"], rtol=case["rtol"], err_msg=case["source"])
    assert_allclose(table.select("lower", "upper").row(0), case["limits"], rtol=case["rtol"], err_msg=case["command"])
    assert_allclose(table["p_value"], case["p_value"], rtol=case["rtol"], err_msg=case["command"])


def test_swapping_the_sides_of_a_rate_ratio_turns_it_over():
    one, other = rate_ratio(7, 30.0, 3, 50.0), rate_ratio(3, 50.0, 7, 30.0)
    assert_allclose(one["lower"], 1 / other["upper"])
    assert_allclose(one["p_value"], other["p_value"])


def test_rate_ratio_says_what_an_empty_side_leaves_open():
    table = rate_ratio([0, 3, 0, 3], [1, 1, 1, 0], [3, 0, 0, 3], 1)
    assert table["status"].to_list() == ["bound only", "upper open", "too few", "too few"]
    assert table["ratio"].to_list() == [0.0, None, None, None]
    assert table["upper"].is_null().to_list() == [False, True, True, True]
    assert table["lower"].is_null().to_list() == [False, False, True, True]
    # three events all on one side of two equal exposures: two-sided p = 2 / 8; limit p = 0.025 ** (1 / 3) of A's share
    assert_allclose(table["p_value"][:2], 0.25)
    share = 0.025 ** (1 / 3)
    assert_allclose(table["lower"][1], share / (1 - share))


@pytest.mark.parametrize("expected", [0.3, 1.0, 4.3, 17.0, 800.0])
def test_standardised_ratio_has_exact_limits_and_the_p_value_of_no_more_probable_counts(expected):
    observed = np.array([0, 1, 3, 5, 14, 40])
    table = standardised_ratio(observed, expected)
    assert_allclose(table["ratio"], observed / expected)
    assert_allclose(table["lower"], rate(observed, 1.0)["lower"] / expected)
    counts = np.arange(6000)
    law = stats.poisson.pmf(counts, expected)
    wanted = [law[law <= law[seen] * (1 + 1e-7)].sum() for seen in observed]
    assert_allclose(table["p_value"], wanted, rtol=1e-9, atol=1e-280)


def test_nothing_expected_tells_nothing():
    assert standardised_ratio(3, 0.0).row(0) == (None, None, None, None, "too few")


def test_proportion_has_clopper_and_pearsons_limits():
    case = CASES["clopper_pearson"]
    table = proportion(4, 20, confidence=0.90)
    assert table["proportion"][0] == 0.2
    assert_allclose(table.select("lower", "upper").row(0), (case["lower"], case["upper"]), atol=case["atol"])
    assert round(table["lower"][0], 6) == 0.071354, case["source"]


def test_proportion_of_none_and_of_all_has_one_open_side():
    table = proportion([0, 5, 0], [5, 5, 0])
    # 1 - 0.025 ** (1 / 5)
    assert_allclose(table["upper"].to_list()[:2], [1 - 0.025**0.2, 1.0])
    assert_allclose(table["lower"].to_list()[:2], [0.0, 0.025**0.2])
    assert table.row(2) == (None, None, None, "too few")


@pytest.mark.parametrize(
    ("call", "says"),
    [
        (lambda: rate([1, -1], 3.0), "events is not a count in 1 of 2 rows: row 2, events -1.0"),
        (lambda: rate(0.5, 3.0), "events is not a count"),
        (lambda: rate(1, -3.0), "exposure is not an amount"),
        (lambda: rate(1, float("inf")), "exposure is not an amount"),
        (lambda: rate_ratio(1, 1, 1.5, 1), "events_b is not a count"),
        (lambda: standardised_ratio(-1, 1), "observed is not a count"),
        (lambda: proportion(3, 2), "more successes than trials in 1 of 1 rows: row 1"),
    ],
)
def test_refuses_what_is_no_count_or_amount_with_its_row(call, says):
    with pytest.raises(SpellError, match=says):
        call()


@pytest.mark.parametrize("call", [rate, standardised_ratio, proportion])
def test_refuses_a_confidence_in_percent(call):
    with pytest.raises(ValueError, match="strictly between 0 and 1"):
        call(1, 2, confidence=95)


def test_empty_input_gives_an_empty_table():
    for table in (rate([], []), rate_ratio([], [], [], []), standardised_ratio([], []), proportion([], [])):
        assert table.height == 0
        assert table.schema["status"] == pl.String


def test_counts_of_a_billion_and_tiny_exposures_stay_finite():
    table = rate([10**9, 1, 0], [1e9, 1e-9, 1e-9])
    assert np.isfinite(table.select("rate", "lower", "upper").to_numpy()).all()
    assert_allclose(table["rate"][:2], [1.0, 1e9])
    far = standardised_ratio([10**6, 0], [1.0, 1e6])
    assert far["p_value"].to_list() == pytest.approx([0.0, 0.0], abs=1e-300)


@pytest.mark.parametrize(
    ("function", "names"),
    [
        (rate, ("events", "exposure")),
        (standardised_ratio, ("observed", "expected")),
        (shrunken_ratio, ("observed", "expected")),
    ],
)
def test_counts_over_amounts_are_refused_alike_under_their_own_names(function, names):
    for given, wrong in (((1.5, 2.0), names[0]), ((-1, 2.0), names[0]), ((1, -2.0), names[1]), ((1, np.inf), names[1])):
        with pytest.raises(SpellError, match=f"{wrong} is not a.* row 1") as refused:
            function(*given)
        assert f"{function.__name__}({', '.join(names)})" in str(refused.value)
    with pytest.raises(ValueError, match="confidence"):
        function(1, 2.0, confidence=1.0)
