"""The product-limit curve: published curves, late entry, gaps, limits."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.estimators import kaplan_meier
from tests.estimators.cases import spells, typed

CURVES = typed("kaplan_meier")
HOUSE = typed("channing_house")
LATE = typed("hazard_and_late_entry")["late_entry"]
TRANSFORMS = {"plain": "plain", "log": "log", "log-log": "log_log"}


def column(frame, name):
    """A column of floats with NaN for null, as the typed cases have it."""
    return frame[name].cast(pl.Float64).fill_null(np.nan).to_numpy()


@pytest.mark.parametrize("name", CURVES)
@pytest.mark.parametrize("transform", TRANSFORMS)
def test_agrees_with_the_cited_curve(name, transform):
    case = CURVES[name]
    curve = kaplan_meier(spells(exit=case["exit"], event=case["event"]), transform=transform)
    assert curve["time"].to_list() == case["time"]
    assert curve["at_risk"].to_list() == case["at_risk"]
    kind = TRANSFORMS[transform]
    for got, wanted in (("survival", "survival"), ("std_error", "std_error"), ("lower", f"{kind}_lower")):
        assert_allclose(column(curve, got), case[wanted], rtol=case["rtol"], atol=1e-12, err_msg=case["source"])
    assert_allclose(column(curve, "upper"), case[f"{kind}_upper"], rtol=case["rtol"], err_msg=case["source"])


@pytest.mark.parametrize("name", [name for name in CURVES if "printed_survival" in CURVES[name]])
def test_agrees_with_the_printed_figures(name):
    case = CURVES[name]
    curve = kaplan_meier(spells(exit=case["exit"], event=case["event"]), transform="log")
    printed = {"survival": "survival", "std_error": "std_error", "lower": "log_lower", "upper": "log_upper"}
    for got, figure in printed.items():
        if f"printed_{figure}" in case:
            wanted = case[f"printed_{figure}"]
            assert_allclose(column(curve, got), wanted, atol=case["printed_atol"], err_msg=case["source"])


def test_both_groups_of_miller_in_one_call_reach_their_medians():
    # Miller (1981), p. 49: medians 31 and 23 weeks
    frame = pl.concat(
        spells(exit=CURVES[name]["exit"], event=CURVES[name]["event"]).with_columns(kind=pl.lit(name))
        for name in ("maintained", "not_maintained")
    )
    curve = kaplan_meier(frame, by="kind")
    medians = curve.filter(pl.col("survival") <= 0.5).group_by("kind").agg(pl.col("time").min()).sort("kind")
    assert medians["time"].to_list() == [CURVES["maintained"]["median"], CURVES["not_maintained"]["median"]]


def test_a_unit_that_enters_at_a_failure_time_is_not_at_risk_then():
    # R survival 3.5-3, survfit(Surv(entry, exit, event) ~ 1): n.risk 3, 2, 1
    curve = kaplan_meier(spells(entry=[0, 0, 2, 1], exit=[2, 5, 6, 4], event=[1, 1, 1, 0]))
    assert curve["at_risk"].to_list() == [3, 2, 1]
    assert_allclose(curve["survival"], [2 / 3, 1 / 3, 0])
    assert_allclose(curve["lower"][:2], [0.05407342678651676, 0.00896162833101928], rtol=1e-8)


def test_agrees_with_the_cited_late_entries():
    curve = kaplan_meier(spells(entry=LATE["entry"], exit=LATE["exit"], event=LATE["event"]))
    assert curve["time"].to_list() == LATE["time"]
    assert curve["at_risk"].to_list() == LATE["at_risk"]
    assert_allclose(curve["survival"], LATE["survival"], rtol=LATE["rtol"], err_msg=LATE["source"])


@pytest.mark.parametrize("name", [name for name in HOUSE if name != "residents"])
def test_agrees_with_the_house_whose_residents_all_enter_late(name):
    case = HOUSE[name]
    people = pl.DataFrame(HOUSE["residents"]).filter(pl.col("sex") == case["sex"])
    assert people.filter(pl.col("exit") > case["start"]).height == case["units"]
    curve = kaplan_meier(people, start=case["start"])
    assert curve["events"].sum() == case["events"]
    for age, survival, error in zip(case["age"], case["survival"], case["std_error"], strict=True):
        until = curve.filter(pl.col("time") <= age)
        reached = (until["survival"][-1], until["std_error"][-1]) if until.height else (1.0, 0.0)
        assert_allclose(reached, (survival, error), rtol=case["rtol"], err_msg=case["command"])


def test_rule_32_a_gap_in_the_risk_set_keeps_the_textbook_product():
    # everyone at risk fails at 3; two more units enter at 5: the product stays 0 and no error or limit is made up
    curve = kaplan_meier(spells(entry=[0, 0, 5, 5], exit=[2, 3, 7, 9], event=[1, 1, 1, 1]))
    assert curve["time"].to_list() == [2, 3, 7, 9]
    assert curve["survival"].to_list() == [0.5, 0.0, 0.0, 0.0]
    for name in ("std_error", "lower", "upper"):
        assert curve[name].is_null().to_list() == [False, True, True, True]


def test_rule_32_men_of_the_house_fall_to_zero_early_and_the_curve_does_not_raise():
    # Klein and Moeschberger, example 4.3: unless it is conditional, the male curve is 0 long before 840 months
    men = pl.DataFrame(HOUSE["residents"]).filter(pl.col("sex") == "M")
    late = kaplan_meier(men).filter(pl.col("time") >= 840)
    assert late.height > 0
    assert late["survival"].unique().to_list() == [0.0]
    assert late["std_error"].null_count() == late.height


def test_a_curve_may_be_conditional_on_lasting_beyond_a_gap():
    frame = spells(entry=[0, 0, 5, 5], exit=[2, 3, 7, 9], event=[1, 1, 1, 0])
    assert kaplan_meier(frame, start=4)["survival"].to_list() == [0.5]


def test_lasting_to_a_time_divides_the_curve_by_its_value_there():
    frame = spells(exit=[2, 3, 3, 5, 8, 9, 9], event=[1, 1, 0, 1, 1, 0, 1])
    whole, later = kaplan_meier(frame), kaplan_meier(frame, start=3)
    at_start = whole.filter(pl.col("time") == 3)["survival"][0]
    assert_allclose(later["survival"], whole.filter(pl.col("time") > 3)["survival"] / at_start)


def test_counts_add_up_from_one_failure_time_to_the_next():
    frame = spells(exit=[2, 2, 3, 4, 5, 5, 7], event=[1, 0, 0, 0, 1, 1, 0])
    curve = kaplan_meier(frame)
    assert curve.select("time", "at_risk", "events", "censored").rows() == [(2, 7, 1, 3), (5, 3, 2, 1)]


def test_a_group_has_the_same_figures_to_the_last_bit_alone_and_among_others():
    rng = np.random.default_rng(20)
    exit_ = rng.integers(1, 5000, 3000)
    frame = pl.DataFrame(
        {"kind": rng.integers(0, 7, 3000), "entry": 0, "exit": exit_, "event": rng.integers(0, 2, 3000)}
    )
    alone = kaplan_meier(frame.filter(pl.col("kind") == 4), by="kind")
    assert alone.equals(kaplan_meier(frame, by="kind").filter(pl.col("kind") == 4))


@pytest.mark.parametrize("factor", [1e-3, 1e9])
def test_another_unit_of_time_changes_the_axis_only(factor):
    frame = spells(entry=[0, 1, 2, 0], exit=[3, 5, 6, 6], event=[1, 1, 0, 1])
    scaled = frame.with_columns(pl.col("entry", "exit") * factor)
    one, other = kaplan_meier(frame), kaplan_meier(scaled)
    assert_allclose(other["time"], one["time"] * factor)
    assert other.drop("time").equals(one.drop("time"))


@pytest.mark.parametrize("units", [6, 10, 22, 124, 1000])
def test_half_of_all_failed_is_one_half_to_the_last_bit(units):
    curve = kaplan_meier(spells(exit=list(range(1, units + 1))))
    assert curve["survival"][units // 2 - 1] == 0.5


def test_ties_of_floats_stay_ties():
    # 58 days as months of 30.5 days: equal on paper, equal here, because one division made both
    frame = spells(exit=[58 / 30.5, 58 / 30.5, 3.0], event=[1, 1, 0])
    assert kaplan_meier(frame).select("at_risk", "events").rows() == [(3, 2)]


@pytest.mark.parametrize("confidence", [0, 1, -0.1, 95])
def test_refuses_a_confidence_outside_zero_and_one(confidence):
    with pytest.raises(ValueError, match="strictly between 0 and 1"):
        kaplan_meier(spells(exit=[1]), confidence=confidence)


def test_refuses_an_unknown_transform_and_names_those_there_are():
    with pytest.raises(ValueError, match="log-log, log, plain"):
        kaplan_meier(spells(exit=[1]), transform="arcsine")
