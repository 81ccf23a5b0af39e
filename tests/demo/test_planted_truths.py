"""The demo's planted truths come back out of the closed records, through the whole way."""

import json

import polars as pl
import pytest

from analytics.scales import DAYS_PER_YEAR
from tests.snapshot_tables import table


@pytest.fixture(scope="module")
def truth(demo_feed):
    return json.loads((demo_feed.parent / "truth.json").read_text(encoding="utf-8"))


def life(demo_dir, **which):
    return table(demo_dir, "life_model", scale="age", **which)


def test_truth_1_the_second_compound_lasts_twice_as_long_and_both_medians_are_covered(demo_dir):
    models = {
        row["level"]: row for row in life(demo_dir, component="flap actuator", grouping="variant").iter_rows(named=True)
    }
    first, second = models["SL-7101"], models["SL-7102"]
    assert first["failures"] >= 20
    assert first["life50_lower"] < 7 * DAYS_PER_YEAR < first["life50_upper"]
    upper = second["life50_upper"] or float("inf")
    assert second["life50_lower"] < 14 * DAYS_PER_YEAR < upper
    assert first["life50_upper"] < second["life50_lower"]


def test_truth_1_by_series_the_compounds_are_mixed_up(demo_dir):
    by_series = life(demo_dir, component="flap actuator", grouping="series").filter(pl.col("failures") >= 20)
    by_variant = life(demo_dir, component="flap actuator", grouping="variant").filter(pl.col("level") != "unknown")
    spread = by_variant["life50"].max() / by_variant["life50"].min()
    assert spread > 1.5
    assert by_series["life50"].max() / by_series["life50"].min() < spread


def test_truth_8_a_trigger_unit_that_never_failed_gets_a_limit_and_no_life(demo_dir):
    row = life(demo_dir, component="trigger unit", grouping="component").row(0, named=True)
    assert row["failures"] == 0
    assert row["basis"] == "bound only"
    assert row["life50"] is None
    assert row["life50_lower"] > 0
    assert row["life50_upper"] is None


def test_truth_8_a_coil_that_failed_once_says_so(demo_dir):
    row = life(demo_dir, component="ignition coil", grouping="component").row(0, named=True)
    assert row["events_seen"] == 1
    assert row["basis"] in ("family", "own", "bound only")
    assert row["status"] in ("ok", "upper open", "bound only", "unlike family")


def test_truth_7_the_dirt_is_counted(demo_dir, truth):
    kinds = table(demo_dir, "data_quality")
    found = {row["kind"]: row["count"] for row in kinds.iter_rows(named=True)}
    assert (
        sum(n for kind, n in found.items() if kind.startswith("waiting in quarantine")) == truth["expected_quarantined"]
    )
    assert any("place" in kind for kind in found), sorted(found)
    assert any("rolled over" in kind for kind in found), sorted(found)
    assert any("in the other unit" in kind for kind in found), sorted(found)
