"""Levels against each other: which are compared, what is adjusted, and which grouping tells lives apart best."""

import numpy as np
import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.recurrence.comparison import MOST_LEVELS, comparisons
from analytics.recurrence.lives import lives
from tests.recurrence.test_lives import facts, seen, spells

LABELS = {"component": "hose", "scale": "age", "started_by": "replaced", "part_origin": "new", "variant": "unknown"}


def fleet(life, n=60, seed=1, **labels):
    """Return n units of a Weibull law of shape 2.5, watched for up to 4,000 days."""
    lasts = (life * np.random.default_rng(seed).weibull(2.5, n)).astype(np.int64) + 1
    frame = spells(f"v{seed}", n, 0).with_columns(
        exit=pl.Series(np.minimum(lasts, 4000)), event=pl.Series((lasts <= 4000).astype(np.int64))
    )
    return frame.with_columns(pl.lit(value).alias(name) for name, value in {**LABELS, **labels}.items()).with_columns(
        variant_told_by=pl.lit("fitting")
    )


def compared(*frames):
    frame = pl.concat(frames)
    return lives(frame, facts(hose="hoses"), seen(frame), Parameters()).comparison


def test_a_design_that_lasts_twice_as_long_is_said_to_last_longer_by_its_ratio_with_limits():
    row = compared(fleet(2000, variant="new"), fleet(1000, variant="old", seed=2)).row(0, named=True)
    assert (row["grouping"], row["level_a"], row["level_b"], row["status"]) == ("variant", "new", "old", "ok")
    assert row["lower"] < 0.5 < row["upper"] < 0.7
    assert row["p_value"] < 0.001
    assert row["told_apart_best"]


def test_p_values_are_adjusted_over_all_comparisons_of_the_analysis():
    frames = [fleet(1000 + 300 * k, seed=k + 1, variant=f"v{k}", series=f"s{k % 2}") for k in range(3)]
    table = compared(*frames)
    assert table.height == 4
    assert table["comparisons"].to_list() == [4] * 4
    order = table.sort("p_value")
    rising = np.minimum.accumulate((order["p_value"].to_numpy() * 4 / np.arange(1, 5))[::-1])[::-1]
    assert order["adjusted_p"].to_list() == pytest.approx(np.minimum(rising, 1).tolist())


def test_what_nobody_told_is_not_compared():
    told = fleet(1000, variant="new")
    assert compared(told, fleet(2000, seed=2)).is_empty()
    as_found = fleet(2000, seed=2, started_by="as found", part_origin="unknown")
    assert compared(fleet(1000), as_found).is_empty()


def test_rule_33_the_grouping_that_tells_lives_apart_best_is_named():
    # the design makes the difference; each series holds both, in unlike shares
    frames = [
        fleet(2400, 70, 1, variant="new", series="S2"),
        fleet(2400, 25, 2, variant="new", series="S1"),
        fleet(1000, 70, 3, variant="old", series="S1"),
        fleet(1000, 25, 4, variant="old", series="S2"),
    ]
    table = compared(*frames)
    alike = compared(*frames, fleet(2400, 20, 6, variant="new", series="S2", part_origin="used up"))
    assert alike.filter(pl.col("grouping") == "part_origin")["told_apart_best"].to_list() == [False]
    assert alike.filter("told_apart_best")["grouping"].to_list() == ["variant"]
    best = table.filter("told_apart_best")
    assert best.select("grouping", "level_a", "level_b").rows() == [("variant", "new", "old")]
    by_series = table.filter(pl.col("grouping") == "series").row(0, named=True)
    assert 1 < by_series["life_ratio"] < 1 / table.filter(pl.col("grouping") == "variant")["life_ratio"].item()


def test_rule_33_where_no_difference_is_sure_no_grouping_is_named():
    table = compared(fleet(1000, variant="new"), fleet(1000, variant="old", seed=2))
    assert table.height == 1
    assert not table["told_apart_best"].any()


def test_rule_34_too_few_failures_give_words_and_no_numbers():
    row = compared(fleet(90_000, 9, variant="new"), fleet(90_000, 9, seed=2, variant="old")).row(0, named=True)
    assert row["status"] == "too few"
    assert row["life_ratio"] is row["lower"] is row["upper"] is row["p_value"] is row["adjusted_p"] is None
    assert row["comparisons"] == 0


def test_a_design_without_failure_lasts_at_least_so_many_times_as_long():
    row = compared(fleet(1000, variant="a"), fleet(1e9, seed=2, variant="b")).row(0, named=True)
    assert row["status"] == "bound only"
    assert row["lower"] > 1.5
    assert row["life_ratio"] is row["upper"] is None
    assert row["p_value"] < 0.01


def test_of_many_levels_those_with_most_failures_are_compared():
    frames = [fleet(1000, 6, seed=k + 1, variant=f"v{k:02d}") for k in range(MOST_LEVELS + 3)]
    table = compared(*frames)
    assert table.height == MOST_LEVELS * (MOST_LEVELS - 1) / 2
    assert comparisons.__doc__
