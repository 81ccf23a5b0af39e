"""Shares failed from each of several causes: published curves, ties of causes, and adding up."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose

from analytics.errors import SpellError
from analytics.estimators import cumulative_incidence, kaplan_meier
from tests.estimators.cases import shared_case, spells, typed

TINY = typed("comparisons")["two_causes"]


def test_agrees_with_two_causes_by_hand():
    frame = spells(exit=TINY["exit"], event=[int(cause > 0) for cause in TINY["cause"]], cause=TINY["cause"])
    result = cumulative_incidence(frame, "cause")
    for cause, name in ((1, "first"), (2, "second")):
        curve = result.filter(pl.col("cause") == cause)
        assert curve["time"].to_list() == TINY["time"]
        assert_allclose(curve["incidence"], TINY[name], rtol=TINY["rtol"], err_msg=TINY["source"])
        assert_allclose(curve["std_error"], TINY[f"{name}_se"], rtol=TINY["rtol"], err_msg=TINY["source"])


def test_agrees_with_the_device_that_surges_or_wears_out():
    # case cr_device_g: R survival 3.5-3, survfit with a factor of causes; at the end 8 of 30 are left
    expected, table = shared_case("cr_device_g")
    frame = table.select(
        entry=pl.lit(0.0), exit="kilocycles", event=(pl.col("mode") != "Suspended").cast(pl.Int64), mode="mode"
    )
    result = cumulative_incidence(frame, "mode")
    for cause, name in (("Surge", "surge"), ("Wearout", "wearout")):
        curve = result.filter(pl.col("cause") == cause)
        assert curve["time"].to_list() == expected["time"]
        assert_allclose(curve["incidence"], expected[f"cif_{name}"], rtol=1e-6)
        assert_allclose(curve["std_error"], expected[f"se_{name}"], rtol=1e-6)
    assert_allclose(result.group_by("cause").agg(pl.col("incidence").last())["incidence"].sum(), 1 - 8 / 30)


def test_causes_and_survivors_add_up_to_one_also_with_late_entry_and_ties():
    rng = np.random.default_rng(5)
    frame = pl.DataFrame({"kind": rng.integers(0, 3, 120), "entry": rng.integers(0, 4, 120)}).with_columns(
        exit=pl.col("entry") + pl.Series(rng.integers(1, 12, 120)),
        event=pl.Series(rng.integers(0, 2, 120)),
        why=pl.Series(rng.choice(["leak", "crack", "wear"], 120)),
    )
    failed = cumulative_incidence(frame, "why", by="kind").group_by("kind", "time").agg(pl.col("incidence").sum())
    both = failed.join(kaplan_meier(frame, by="kind"), on=["kind", "time"], validate="1:1")
    assert both.height == kaplan_meier(frame, by="kind").height
    assert_allclose(both["incidence"] + both["survival"], 1)


def test_a_single_cause_is_the_complement_of_the_product_limit_curve():
    frame = spells(entry=[0, 0, 1, 2, 3], exit=[2, 4, 4, 7, 9], event=[1, 1, 0, 1, 0], why=["leak"] * 5)
    incidence, survival = cumulative_incidence(frame, "why"), kaplan_meier(frame)
    assert_allclose(incidence["incidence"], 1 - survival["survival"])
    assert_allclose(incidence["std_error"], survival["std_error"])


def test_a_cause_that_has_not_struck_yet_is_0_without_limits():
    frame = spells(exit=[2, 4, 9], event=[1, 1, 0], why=["leak", "crack", None])
    first = cumulative_incidence(frame, "why").filter(pl.col("cause") == "crack").row(0, named=True)
    assert (first["time"], first["events"], first["incidence"], first["lower"], first["upper"]) == (2, 0, 0, None, None)


def test_the_cause_of_a_unit_that_did_not_fail_is_not_read():
    frame = spells(exit=[2, 4, 9], event=[1, 0, 0], why=["leak", "window end", None])
    assert cumulative_incidence(frame, "why")["cause"].to_list() == ["leak"]


def test_refuses_a_failure_without_a_cause():
    frame = spells(exit=[2, 4], why=["leak", None])
    with pytest.raises(SpellError, match="a failure has no why in 1 of 2 rows: row 2"):
        cumulative_incidence(frame, "why")
