"""The demo's planted order of failures comes back out of the closed records, and its decoy does not."""

import json

import polars as pl
import pytest

from tests.snapshot_tables import table


@pytest.fixture(scope="module")
def truth(demo_feed):
    return json.loads((demo_feed.parent / "truth.json").read_text(encoding="utf-8"))


def told(demo_dir, truth, which):
    fact = truth["planted"][which]
    return table(demo_dir, "follow_on", first=fact["first"], then=fact["then"]).row(0, named=True)


def test_truth_4_the_valve_fails_after_the_pump_more_often_than_before_it(demo_dir, truth):
    row = told(demo_dir, truth, "induced")
    assert row["declared"]
    assert row["adjusted_p"] < 0.05
    assert row["n_first_then"] >= 10
    assert row["n_then_first"] <= 2
    assert row["share_lower"] < truth["planted"]["induced"]["planted_share"] < row["share_upper"]


def test_truth_4_some_records_say_so_themselves_and_the_first_is_left_out_of_the_test(demo_dir, truth):
    row = told(demo_dir, truth, "induced")
    assert row["told_by"] >= 2
    assert row["set_apart"] == 1
    said = table(demo_dir, "follow_on_pair", first=row["first"], then=row["then"]).filter("told")
    assert 1 <= said.height <= row["told_by"]


def test_truth_4_no_other_pair_stands_and_the_decoy_comes_in_either_order(demo_dir, truth):
    stands = table(demo_dir, "follow_on").filter(pl.col("adjusted_p") < 0.05)
    assert stands.select("first", "then").rows() == [
        tuple(truth["planted"]["induced"][end] for end in ("first", "then"))
    ]
    decoy = told(demo_dir, truth, "decoy")
    assert decoy["n_first_then"] + decoy["n_then_first"] >= 5
    # the workshop suspects it, so that it is tested beside a few declared pairs alone; it does not stand even so
    assert (decoy["stated"], decoy["declared"], decoy["told_by"], decoy["set_apart"]) == (True, True, 0, 0)
    assert decoy["tests"] <= 6
    assert decoy["p_value"] > 0.05


def test_the_pairs_behind_it_are_records_of_the_snapshot_and_add_up(demo_dir):
    pairs = table(demo_dir, "follow_on_pair")
    records = table(demo_dir, "record").select("record", "vehicle_id", "component")
    for end in ("first", "then"):
        of = pairs.join(records, left_on=f"{end}_record", right_on="record", how="left", suffix="_of")
        assert of["vehicle_id_of"].to_list() == pairs["vehicle_id"].to_list()
        assert of["component"].to_list() == pairs[end].to_list()
    assert pairs["days"].is_between(1, 120).all()
    rows = table(demo_dir, "follow_on")
    assert rows["n_first_then"].sum() == rows["n_then_first"].sum() == pairs.height
    left = table(demo_dir, "data_quality").filter(pl.col("kind").str.starts_with("pair of faults that tells no order"))
    shares = left["share"] / left["count"]
    assert shares.max() - shares.min() < 1e-12
    assert round(1 / shares[0]) == left["count"].sum() + pairs.height
