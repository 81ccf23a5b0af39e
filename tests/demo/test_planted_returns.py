"""The demo's planted returns come back out of the closed records, and nothing else is said to come back."""

import json

import polars as pl
import pytest

from analytics.snapshot import latest_path, open_snapshot, read_told, safety_critical
from tests.snapshot_tables import table

ROW = {"component": "window motor", "part_origin": "all"}


@pytest.fixture(scope="module")
def planted(demo_feed):
    return json.loads((demo_feed.parent / "truth.json").read_text(encoding="utf-8"))["planted"]["returns"]


@pytest.mark.parametrize("action", ["overhauled", "exchanged"])
def test_truth_5_the_planted_share_lies_within_the_limits(demo_dir, planted, action):
    row = table(demo_dir, "repeat_repair", action=action, **ROW).row(0, named=True)
    assert row["lower"] < planted[action]["planted_share"] < row["upper"]
    # the truth file counts by the day of the archive's end, and knows units where a line is blank
    assert row["returns"] == pytest.approx(planted[action]["count"], abs=2)
    assert row["repairs"] == pytest.approx(planted[action]["out_of"], rel=0.05)


def test_truth_5_window_motors_come_back_more_often_than_by_chance_and_nothing_else_does(demo_dir):
    rows = table(demo_dir, "repeat_repair")
    assert rows.filter(pl.col("verdict") == "more than chance")["component"].unique().to_list() == ["window motor"]
    motor = rows.filter(pl.col("component") == "window motor", pl.col("part_origin") == "all")
    assert set(motor["verdict"]) == {"more than chance"}
    assert rows.height > 400


def test_truth_5_chance_is_not_raised_by_the_returns_themselves(demo_dir):
    row = table(demo_dir, "repeat_repair", action="overhauled", **ROW).row(0, named=True)
    assert row["chance_upper"] / row["repairs"] < 0.05 < row["lower"]


def test_truth_13_blank_positions_bring_back_no_more_than_they_should(demo_dir):
    """A failure without a position counts for every slot, and so does chance."""
    row = table(demo_dir, "repeat_repair", component="flap actuator", action="all", part_origin="all").row(
        0, named=True
    )
    assert row["returns"] > 20
    assert row["chance_lower"] <= row["returns"] <= row["chance_upper"]


def test_truth_15_check_overs_are_no_returns(demo_dir, demo_feed):
    told = json.loads((demo_feed.parent / "truth.json").read_text(encoding="utf-8"))["planted"]["check-overs"]
    row = table(demo_dir, "repeat_repair", component=told["component"], action="all", part_origin="all").row(
        0, named=True
    )
    assert told["count"] > 200
    assert row["returns"] <= row["chance_upper"]


def test_used_and_left_out_repairs_add_up_over_the_whole_demo(demo_dir):
    rows = table(demo_dir, "repeat_repair", action="all", part_origin="all")
    counted = rows.select(pl.sum("repairs", "repairs_open", "repairs_left", "repairs_undated")).row(0)
    quality = table(demo_dir, "data_quality").filter(pl.col("kind").str.starts_with("repair not counted for returns: "))
    told = {row["kind"].split(": ")[1]: row["count"] for row in quality.iter_rows(named=True)}
    assert (told["not long enough ago"], told["the car left before"]) == counted[1:3]
    out_of = {round(row["count"] / row["share"]) for row in quality.iter_rows(named=True)}
    assert out_of == {sum(counted) + told["nothing was done to it"]}


def test_every_pair_of_records_is_told_and_lies_within_the_window(demo_dir):
    pairs, rows = table(demo_dir, "return_pair"), table(demo_dir, "repeat_repair", action="all", part_origin="all")
    assert pairs.height == rows["returns"].sum()
    assert pairs["days"].is_between(1, 90).all()
    assert pairs["km"].drop_nulls().is_between(0, 1500).all()
    records = table(demo_dir, "record").select("record", "vehicle_id", "component", "reason")
    for line in ("repair_record", "return_record"):
        joined = pairs.join(records, left_on=line, right_on="record", how="left")
        assert (joined["vehicle_id"] == joined["vehicle_id_right"]).all()
        assert (joined["component"] == joined["component_right"]).all()
    assert set(joined["reason"]) <= {"failure", "not recorded"}


def test_rule_39_returns_of_safety_critical_parts_are_told_and_what_chance_gives_is_not(demo_dir):
    with open_snapshot(latest_path(demo_dir)) as connection:
        critical, told = safety_critical(connection), read_told(connection, "repeat_repair")
    withheld = ["expected_by_chance", "chance_lower", "chance_upper", "excess", "excess_lower", "excess_upper"]
    withheld += ["p_value", "adjusted_p"]  # a Poisson chance of so many or more gives its mean back
    of_them, others = (told.filter(pl.col("component").is_in(critical) == flag) for flag in (True, False))
    assert of_them["repairs"].sum() > 1000
    assert of_them.select(pl.col(withheld).is_not_null().any()).row(0) == (False,) * 8
    assert set(of_them["status"]) == {"safety-critical"}
    assert of_them.filter(pl.col("repairs") > 0)["share"].is_not_null().all()
    assert others.filter(pl.col("repairs") > 0).select("chance_upper", "p_value", "adjusted_p").null_count().row(0) == (
        *(0, 0, 0),
    )
    inside = table(demo_dir, "repeat_repair").filter(pl.col("component").is_in(critical))
    assert inside["expected_by_chance"].is_not_null().any()
    assert inside["p_value"].is_not_null().any()
    assert of_them["verdict"].sort().to_list() == inside["verdict"].sort().to_list()
