"""When planned replacement pays: against the policy of the true law, over fleets simulated from it."""

import numpy as np
import polars as pl
import pytest

from analytics.estimators import models_and_laws, replacement_age
from analytics.parameters import Parameters
from analytics.recurrence.replacement import COST_RATIOS, planned_replacement

GROUP = ["component", "grouping", "level", "scale"]
FLEETS, UNITS, LIFE = 200, 60, 3000.0


def fleets(shape, count=FLEETS, units=UNITS, seed=5):
    """Fleets of so many new units, watched for up to 1.5 lives; each a component of its own."""
    rng = np.random.default_rng(seed)
    fails = LIFE * rng.weibull(shape, (count, units))
    watched = rng.uniform(0.2, 1.5, (count, units)) * LIFE
    frame = pl.DataFrame(
        {
            "component": np.repeat([f"part {n:03}" for n in range(count)], units),
            "exit": np.minimum(fails, watched).ravel(),
            "event": (fails <= watched).astype(int).ravel(),
        }
    )
    return frame.with_columns(
        entry=pl.lit(0.0), age_known=True, grouping=pl.lit("component"), level=pl.lit("all"), scale=pl.lit("age")
    )


def planned(spells, **facts):
    models, _, laws = models_and_laws(spells, by=GROUP)
    rows = models.with_columns(default_grouping=True, safety_critical=False).with_columns(**facts)
    return planned_replacement(laws, rows, Parameters())


def test_the_limits_hold_the_best_age_of_the_true_law():
    """200 fleets of 60 units, shape 3: two-sided 90 % limits cover in 0.86 to 0.97 (Monte Carlo error 0.02)."""
    found = planned(fleets(3.0))
    for ratio in (3.0, 10.0):
        true = replacement_age(3.0, LIFE, ratio)["age"][0]
        rows = found.filter(pl.col("cost_ratio") == ratio)
        assert rows["status"].unique().to_list() == ["ok"]
        held = ((rows["age_lower"] <= true) & (true <= rows["age_upper"])).mean()
        assert 0.86 <= held <= 0.97
        assert rows["age"].median() == pytest.approx(true, rel=0.05)


def test_the_saving_is_that_of_the_true_law():
    found = planned(fleets(3.0)).filter(pl.col("cost_ratio") == 5.0)
    true = replacement_age(3.0, LIFE, 5.0)
    share = 1 - (true["cost_rate"] / true["cost_rate_unplanned"])[0]
    assert found["saving"].median() == pytest.approx(share, abs=0.03)


def test_no_age_is_told_of_parts_that_do_not_wear_out():
    """200 fleets, shape 1: an age is told in no more of them than a limit leaves out, 5 % and Monte Carlo error."""
    found = planned(fleets(1.0)).filter(pl.col("cost_ratio") == 10.0)
    assert found["status"].value_counts().filter(pl.col("status") == "ok")["count"].sum() <= 0.09 * FLEETS
    told = found.filter(pl.col("status") != "ok")
    assert told["status"].unique().to_list() == ["may not wear out"]
    assert (
        told.select("age", "age_lower", "age_upper", "saving", "saving_lower", "saving_upper").null_count().row(0)
        == (told.height,) * 6
    )


def test_few_failures_give_no_age():
    found = planned(fleets(3.0, count=1, units=4))
    assert found["status"].to_list() == ["too few"] * len(COST_RATIOS)
    assert found["age"].null_count() == found.height


def test_rule_39_a_safety_critical_part_has_no_row():
    assert planned(fleets(3.0, count=2), safety_critical=pl.col("component") == "part 000")[
        "component"
    ].unique().to_list() == ["part 001"]


def test_only_the_default_grouping_is_asked():
    assert planned(fleets(3.0, count=2), default_grouping=pl.col("component") == "part 001")[
        "component"
    ].unique().to_list() == ["part 001"]


def test_nothing_to_ask_gives_no_rows():
    assert planned(fleets(3.0, count=1), default_grouping=pl.lit(value=False)).is_empty()
