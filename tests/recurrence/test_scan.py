"""Whether a place stands out: excess, its chance, what could have been noticed, and both ways of drawing chance."""

from dataclasses import replace

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from analytics.parameters import Parameters
from analytics.recurrence import moved_places
from analytics.recurrence.excess import chance, detectable_ratio, excess, noticed_from
from analytics.recurrence.exchanged_series import compared
from analytics.recurrence.locations import fault_locations
from analytics.recurrence.moved_places import Hits, greatest_by_chance, ring_of
from analytics.recurrence.places import place_tree
from tests.recurrence.test_locations import TREE, counted, faults, locations, vehicles
from tests.slow_twin.places import counted as counted_slowly

FEW = replace(Parameters(), scan_draws=199)
NO_PLACE = pl.Series([], dtype=pl.String)


@pytest.mark.parametrize(("here", "rest", "share"), [(14, 86, 0.05), (3, 1, 0.25), (7, 0, 0.5)])
def test_the_excess_is_half_the_likelihood_ratio_statistic_of_a_general_library(here, rest, share):
    """scipy.stats.power_divergence, lambda_ = log-likelihood (the G test)."""
    n = here + rest
    g, _ = stats.power_divergence([here, rest], [n * share, n * (1 - share)], lambda_="log-likelihood")
    found = excess(np.array([here * 1.0]), np.array([rest * 1.0]), np.array([share]))
    assert found == pytest.approx([g / 2])


def test_a_place_with_less_than_its_share_has_no_excess_nor_has_one_that_holds_everything():
    zero, one = np.zeros(1), np.ones(1)
    assert excess(one, 9 * one, 0.2 * one) == 0
    assert excess(zero, zero, 0.2 * one) == 0
    assert excess(5 * one, zero, one) == 0


def test_the_chance_is_the_rank_among_the_draws_times_the_looks():
    greatest = np.arange(1.0, 20.0)
    assert chance(np.array([19.5, 19.0, 0.0]), greatest, 1) == pytest.approx([0.05, 0.10, 1.0])
    assert chance(np.array([19.5, 0.0]), greatest, 2) == pytest.approx([0.10, 1.0])
    assert noticed_from(greatest, 0.10, 1) == 18.0
    assert chance(np.array([18.1]), greatest, 1) == pytest.approx([0.10])
    assert noticed_from(greatest, 0.05, 2) == np.inf


def test_a_true_excess_of_the_detectable_ratio_is_noticed_in_eight_of_ten_fleets():
    expected, rest, share, least = np.array([10.0]), np.array([390.0]), np.array([0.025]), 6.0
    ratio = detectable_ratio(expected, rest, share, least)
    drawn = np.random.default_rng(1).poisson(expected * ratio, 20_000).astype(float)
    assert (excess(drawn, rest, share) > least).mean() == pytest.approx(0.8, abs=0.01)
    assert detectable_ratio(expected, rest, share, np.inf) == np.inf


def test_a_wider_area_is_expected_to_have_the_faults_of_its_places():
    tree = locations(("front", None), ("rear", None), *((f"f{k}", "front") for k in range(3)), ("r0", "rear"))
    rows = faults(*(("a", "S1", 10 * k, f"R{k}", place, "failure") for k, place in enumerate(["f0", "f1", "f2", "r0"])))
    found = counted(rows, tree=tree)
    assert (found["front"]["expected"], found["rear"]["expected"]) == (3.0, 1.0)
    assert found["front"]["ratio"] == found["rear"]["ratio"] == 1.0


def test_ring_and_shares_follow_the_tree():
    ring = ring_of(place_tree(TREE, NO_PLACE))
    assert ring.names == ["body", "rear", "arch left", "arch right", "lamp"]
    assert ring.share == pytest.approx([1, 1, 1 / 3, 1 / 3, 1 / 3])
    uneven = ring_of(place_tree(locations(("a", None), ("b", "a"), ("c", "b"), ("d", "a")), pl.Series(["e"])))
    assert dict(zip(uneven.names, uneven.share, strict=True)) == pytest.approx(
        {"a": 2 / 3, "e": 1 / 3, "b": 0.5, "d": 0.5, "c": 1.0}
    )


@st.composite
def moved(draw):
    visits = draw(st.lists(st.tuples(st.integers(0, 2), st.integers(0, 1)), min_size=1, max_size=6))
    rows = [
        (car, visit, series, lowest, levels)
        for visit, (car, series) in enumerate(visits)
        for lowest in draw(st.sets(st.integers(0, 3), min_size=1))
        for levels in [draw(st.sampled_from([3, 3, 1, 2]))]
    ]
    return rows, draw(st.lists(st.integers(0, 3), min_size=3, max_size=3))


@given(moved())
def test_moved_faults_are_counted_as_by_a_plain_loop(drawn):
    rows, shift = drawn
    tree = place_tree(
        locations(("a", None), ("b", "a"), ("c", "b"), ("d", "b"), ("e", "a"), ("f", "e")), pl.Series("g")
    )
    ring = ring_of(tree)
    above = [[int(place) for place in column if place >= 0] for column in ring.above.T]
    hits = Hits(*(np.array(column, dtype=np.int64) for column in zip(*rows, strict=True)))
    counts = moved_places._counts(hits, ring, np.array([shift]))[0]
    slow = counted_slowly(rows, above, shift)
    found = {
        (series, place): int(counts[group, place])
        for group, series in enumerate(["all", *range(int(hits.series.max()) + 1)])
        for place in range(len(ring.names))
        if counts[group, place]
    }
    assert found == dict(slow)


def test_series_dealt_out_anew_are_compared_as_by_a_plain_loop():
    rng = np.random.default_rng(4)
    cars = pl.DataFrame({"vehicle_id": [f"c{k}" for k in range(8)], "series": ["A", "B"] * 4})
    years = cars.join(pl.DataFrame({"band": [1, 2]}), how="cross").with_columns(
        years=pl.Series(rng.uniform(0.5, 3, 16))
    )
    seen = years.sample(60, with_replacement=True, seed=1).with_columns(location=pl.Series(rng.choice(["x", "y"], 60)))
    rows, greatest = compared(seen, years, FEW)
    for row in rows.iter_rows(named=True):
        own, usual, total = 0, 0.0, 0
        for band in (1, 2):
            here = seen.filter(pl.col("band") == band, pl.col("location") == row["location"])
            there = years.filter(pl.col("band") == band)
            own += here.filter(pl.col("series") == row["series"]).height
            total += here.height
            share = there.filter(pl.col("series") == row["series"])["years"].sum() / there["years"].sum()
            usual += here.height * share
        assert (row["here"], row["rest"]) == (own, total - own)
        assert row["share"] == pytest.approx(usual / total)
    assert greatest.shape == (199,)


def hot(times):
    """Twenty cars; each has a fault at every place, and at the left arch so many, a year apart."""
    rows = [
        (f"c{c:02d}", "S1", 30 * n + 365 * k, f"R{c}-{n}-{k}", place, "failure")
        for c in range(20)
        for n, place in enumerate(["arch left", "arch right", "lamp"])
        for k in range(times if place == "arch left" else 1)
    ]
    return faults(*rows), vehicles(*((f"c{c:02d}", "S1", 1970, 12) for c in range(20)))


def test_rule_36_a_place_that_many_cars_share_stands_out_and_its_draws_are_the_same_again():
    rows, cars = hot(4)
    table = fault_locations(rows, cars, TREE, FEW)
    row = table.filter(pl.col("location") == "arch left", pl.col("series") == "all").row(0, named=True)
    assert row["scan_p"] <= 0.01
    assert table.filter(pl.col("location") != "arch left")["scan_p"].to_numpy().min() > 0.05
    assert table.equals(fault_locations(rows, cars, TREE, FEW))


def test_rule_36_one_car_that_comes_back_to_one_place_makes_no_hot_spot():
    rows = faults(*(("a", "S1", 30 * k, f"R{k}", "arch left", "failure") for k in range(40)))
    table = fault_locations(rows, vehicles(("a", "S1", 1970, 5)), TREE, FEW)
    assert table.filter(pl.col("location") == "arch left")["probability_above_one"].to_numpy().min() > 0.99
    assert table["scan_p"].to_numpy().min() > 0.2


def test_faults_of_a_wider_area_count_at_its_level_alone():
    rows, cars = hot(1)
    wide = rows.with_columns(location=pl.when(pl.col("location") == "lamp").then(pl.lit("rear")).otherwise("location"))
    seen = wide.select("vehicle_id", "series", "visit_day", "location").unique()
    ring = ring_of(place_tree(TREE, NO_PLACE))
    assert greatest_by_chance(seen, ring, FEW).shape == (199,)
    assert counted(wide, cars=cars)["lamp"]["observed"] == 0
    assert counted(wide, cars=cars)["rear"]["observed"] == 60


def test_what_blanks_could_change_is_told_for_and_against():
    rows, cars = hot(4)
    lamp = rows.filter(pl.col("location") == "lamp").with_columns(location=pl.lit(None, dtype=pl.String))
    blank = [lamp.with_columns(pl.col("visit_day") + pl.duration(days=7 + k)) for k in range(6)]
    table = fault_locations(pl.concat([rows, *blank]), cars, TREE, FEW)
    here = {row["location"]: row for row in table.filter(pl.col("series") == "all").iter_rows(named=True)}
    assert here["arch left"]["blanks"] == 120
    visits = pl.concat([rows, *blank]).select("vehicle_id", "visit_day").n_unique()
    assert here["arch left"]["blank_share"] == here["lamp"]["blank_share"] == pytest.approx(120 / visits)
    assert here["arch left"]["scan_p"] <= 0.01 < here["arch left"]["scan_p_blanks_elsewhere"]
    assert here["lamp"]["scan_p"] > 0.05 > here["lamp"]["scan_p_blanks_here"]
