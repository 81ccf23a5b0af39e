"""What a frame of spells must hold, and what a refusal says."""

import numpy as np
import polars as pl
import pytest

from analytics.errors import SpellError
from analytics.estimators import (
    cumulative_incidence,
    kaplan_meier,
    log_rank,
    mean_cumulative_function,
    nelson_aalen,
    restricted_mean,
)
from analytics.estimators.spells_in import spells_in
from tests.estimators.cases import spells

GOOD = spells(entry=[0, 2, 3], exit=[5, 6, 9], event=[1, 0, 1], kind=["b", "a", "b"])

ESTIMATORS = {
    "kaplan_meier": lambda frame, by: kaplan_meier(frame, by),
    "nelson_aalen": lambda frame, by: nelson_aalen(frame, by),
    "mean_cumulative_function": lambda frame, by: mean_cumulative_function(frame, by),
    "restricted_mean": lambda frame, by: restricted_mean(frame, 5, by),
    "log_rank": lambda frame, by: log_rank(frame, by),
    "cumulative_incidence": lambda frame, by: cumulative_incidence(frame, "kind", by),
}


@pytest.mark.parametrize("name", ESTIMATORS)
def test_every_estimator_refuses_an_exit_that_is_not_after_entry_with_its_row_number(name):
    frame = GOOD.with_columns(exit=pl.Series([5, 2, 9]))
    with pytest.raises(SpellError, match=r"exit is not after entry in 1 of 3 rows: row 2, entry 2, exit 2") as raised:
        ESTIMATORS[name](frame, "kind")
    assert name in raised.value.where


def test_a_refusal_names_five_rows_and_counts_the_rest():
    with pytest.raises(SpellError, match=r"in 8 of 8 rows: row 1.*row 5, entry 0, exit 0\n") as raised:
        spells_in(spells(exit=[0] * 8))
    assert "row 6" not in raised.value.what


@pytest.mark.parametrize("column", ["entry", "exit", "event"])
def test_refuses_null_with_its_row_number(column):
    frame = GOOD.with_columns(pl.when(pl.col("exit") == 9).then(None).otherwise(pl.col(column)).alias(column))
    with pytest.raises(SpellError, match=f"{column} is null in 1 of 3 rows: row 3"):
        spells_in(frame)


@pytest.mark.parametrize("column", ["entry", "exit", "event", "kind"])
def test_refuses_a_missing_column_and_says_which_there_are(column):
    with pytest.raises(SpellError, match=f"no column {column} among"):
        spells_in(GOOD.drop(column), by="kind")


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
@pytest.mark.parametrize("column", ["entry", "exit"])
def test_refuses_what_is_not_finite(column, value):
    frame = GOOD.with_columns(pl.Series(column, [0.5, value, 4.0]))
    with pytest.raises(SpellError, match=f"{column} is not finite in 1 of 3 rows: row 2"):
        spells_in(frame)


@pytest.mark.parametrize("column", ["entry", "exit", "event"])
def test_refuses_text(column):
    with pytest.raises(SpellError, match=f"column '{column}' holds String, not numbers"):
        spells_in(GOOD.with_columns(pl.col(column).cast(pl.String)))


@pytest.mark.parametrize("event", [2, -1])
def test_refuses_an_event_that_is_not_0_or_1(event):
    with pytest.raises(SpellError, match=f"event is not 0 to 1 in 1 of 3 rows: row 1, event {event}"):
        kaplan_meier(GOOD.with_columns(event=pl.Series([event, 0, 1])))


def test_refuses_half_an_event():
    with pytest.raises(SpellError, match=r"event is not a whole number in 1 of 3 rows: row 1, value 0\.5"):
        kaplan_meier(GOOD.with_columns(event=pl.Series([0.5, 0, 1])))


@pytest.mark.parametrize("name", ESTIMATORS)
def test_refuses_a_grouping_column_with_the_name_of_a_returned_one_and_says_both(name):
    taken = {"log_rank": "statistic", "restricted_mean": "mean"}.get(name, "time")
    frame = GOOD.rename({"kind": taken})
    with pytest.raises(SpellError, match=f"grouping column '{taken}' has the name of the returned column '{taken}'"):
        ESTIMATORS[name](frame.with_columns(kind=pl.lit("a")), ("kind", taken))


def test_refuses_a_grouping_column_named_twice():
    with pytest.raises(SpellError, match="named twice"):
        kaplan_meier(GOOD, by=("kind", "kind"))


def test_refuses_a_missing_or_empty_cluster_and_a_missing_cause():
    with pytest.raises(SpellError, match="no column car among entry, event, exit, kind"):
        mean_cumulative_function(GOOD, cluster="car")
    with pytest.raises(SpellError, match="car is null in 1 of 3 rows: row 2"):
        mean_cumulative_function(GOOD.with_columns(car=pl.Series([1, None, 2])), cluster="car")
    with pytest.raises(SpellError, match="no column why among"):
        cumulative_incidence(GOOD, "why")


def test_booleans_and_small_integers_are_taken():
    frame = GOOD.with_columns(pl.col("event").cast(pl.Boolean), pl.col("entry", "exit").cast(pl.UInt16))
    assert kaplan_meier(frame).equals(kaplan_meier(GOOD))


def test_groups_are_sorted_and_a_null_level_is_a_group():
    frame = GOOD.with_columns(kind=pl.Series(["b", None, "a"]))
    checked = spells_in(frame, by="kind")
    assert checked.levels["kind"].to_list() == [None, "a", "b"]
    assert checked.group.tolist() == [2, 0, 1]


def test_several_grouping_columns_make_one_group_per_combination():
    frame = GOOD.with_columns(side=pl.Series([1, 1, 2]))
    assert spells_in(frame, by=("kind", "side")).levels.rows() == [("a", 1), ("b", 1), ("b", 2)]


def test_the_order_of_rows_does_not_matter():
    rng = np.random.default_rng(7)
    frame = pl.DataFrame({"kind": rng.integers(0, 3, 200), "entry": rng.integers(0, 20, 200)}).with_columns(
        exit=pl.col("entry") + pl.Series(rng.integers(1, 20, 200)), event=pl.Series(rng.integers(0, 2, 200))
    )
    assert kaplan_meier(frame.sample(fraction=1, shuffle=True, seed=1), by="kind").equals(
        kaplan_meier(frame, by="kind")
    )
