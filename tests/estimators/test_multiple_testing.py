"""Adjusted p-values: the published example, order, nulls."""

import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.errors import SpellError
from analytics.estimators import adjust_p_values
from tests.estimators.cases import typed

CASES = typed("counts")


@pytest.mark.parametrize("name", ["benjamini_hochberg", "unsorted"])
@pytest.mark.parametrize("method", ["bh", "holm"])
def test_agrees_with_the_cited_values_in_the_order_given(name, method):
    case = CASES[name]
    table = adjust_p_values(case["p"], method)
    assert table["p_value"].to_list() == case["p"]
    assert_allclose(table["adjusted_p"], case[method], rtol=1e-6, err_msg=case["source"])


@pytest.mark.parametrize("method", ["bh", "holm"])
def test_rejects_as_many_as_the_paper(method):
    case = CASES["benjamini_hochberg"]
    assert (adjust_p_values(case["p"], method)["adjusted_p"] <= 0.05).sum() == case[f"{method}_rejected"]


@pytest.mark.parametrize("method", ["bh", "holm"])
def test_a_test_that_was_not_made_stays_null_and_does_not_count(method):
    made = adjust_p_values([0.02, 0.01], method)["adjusted_p"].to_list()
    assert adjust_p_values(pl.Series([0.02, None, 0.01]), method)["adjusted_p"].to_list() == [made[0], None, made[1]]


def test_nothing_to_adjust_gives_an_empty_table():
    assert adjust_p_values([]).schema == {"p_value": pl.Float64, "adjusted_p": pl.Float64}


def test_refuses_what_is_no_probability():
    with pytest.raises(SpellError, match="p is not a probability in 1 of 2 rows: row 2"):
        adjust_p_values([0.5, 1.2])


def test_refuses_an_unknown_method():
    with pytest.raises(ValueError, match="bh, holm"):
        adjust_p_values([0.5], "bonferroni")
