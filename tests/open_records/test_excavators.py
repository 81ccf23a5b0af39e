"""Mining excavators: component and side out of free text cut at 40 characters, five machines, eleven years.

Records: University of Western Australia, CC0 1.0; counts of its README and PROFILE.txt.
"""

import polars as pl
import pytest

from analytics.ledger import load
from analytics.pipeline import analyse
from analytics.records import map_feed, parse_mapping
from tests.conftest import LOADED_ON, MAPPINGS, open_records
from tests.snapshot_tables import table

ENGINE = {"right": (212, 207), "left": (145, 140)}


def side(position):
    return {"right": "right", "rh": "right", "left": "left", "lh": "left"}[position.lower().split()[0]]


@pytest.fixture(scope="module")
def engine(excavator_dir):
    rows = table(excavator_dir, "failure_interval", component="engine", series="all").filter(
        ~pl.col("position").is_in(["all", "only"])
    )
    return {side(row["position"]): row for row in rows.iter_rows(named=True)}


@pytest.mark.parametrize("position", ["right", "left"])
def test_engine_events_and_repeats_before_windows_are_those_of_the_readme(engine, excavator_dir, position):
    events, repeats = ENGINE[position]
    assert engine[position]["events_seen"] == pytest.approx(events, rel=0.03)
    faults = table(excavator_dir, "fault", component="engine", position=engine[position]["position"])
    faults = faults.filter(~pl.col("position_inferred"))
    cars = faults["vehicle_id"].n_unique()
    assert faults.height - cars == pytest.approx(repeats, rel=0.03)


def test_every_order_is_in_the_ledger(excavator_dir):
    assert table(excavator_dir, "record").height == 5485


def test_the_one_cylinder_example_gives_its_gaps_out_of_free_text(tmp_path):
    mapping = parse_mapping(MAPPINGS / "uwa_cylinder.toml")
    load(tmp_path, map_feed(open_records("uwa_excavators"), mapping), loaded_on=LOADED_ON)
    analyse(tmp_path)
    lines = table(tmp_path, "record").filter(pl.col("component") == "boom cyl").sort("closed_on")
    assert lines["position"].n_unique() == 1
    gaps = lines["closed_on"].diff().dt.total_days().drop_nulls().to_list()
    assert gaps == [269, 185, 594, 48, 579, 296]


def test_five_machines_are_too_few_for_an_order_of_failures_to_stand_out(excavator_dir):
    pairs = table(excavator_dir, "follow_on")
    tested = pairs.filter(pl.col("p_value").is_not_null())
    assert tested.height > 20
    assert (pairs["n_first_then"] + pairs["n_then_first"]).max() == table(excavator_dir, "vehicle").height == 5
    # one in 32 is the least that five machines can give, and dozens of pairs are looked at
    assert tested["adjusted_p"].min() > 0.05
    assert pairs["n_first_then"].sum() == table(excavator_dir, "follow_on_pair").height
