"""City buses: 290 engine lives, two scales, delayed entry, dates and odometers that disagree.

Records: J. Rust, Econometrica 55(5), 1987, as redistributed (see the folder's README); reference values: R survival
3.5.3 on lives formed from the stated replacement odometers, printed in R_CHECK.txt there.
"""

import polars as pl
import pytest

from analytics.scales import miles_to_km
from tests.conftest import open_records
from tests.snapshot_tables import table

MEDIAN_MILES = 234_800


def median_of(curve):
    return curve.filter(pl.col("survival") <= 0.5)["time"].min()


def test_the_whole_way_gives_the_median_engine_life_within_three_percent(bus_dir):
    curve = table(bus_dir, "survival_curve", component="engine", grouping="component", scale="distance")
    assert median_of(curve) == pytest.approx(miles_to_km(MEDIAN_MILES), rel=0.03)


def test_the_life_model_brackets_that_median(bus_dir):
    model = table(bus_dir, "life_model", component="engine", grouping="component", scale="distance").row(0, named=True)
    assert model["basis"] == "own"
    assert model["life50_lower"] < miles_to_km(MEDIAN_MILES) < model["life50_upper"]
    assert model["life50"] == pytest.approx(miles_to_km(MEDIAN_MILES), rel=0.05)


def test_engines_found_at_the_first_reading_are_original_and_enter_late(bus_dir):
    spells = table(bus_dir, "spell", component="engine", scale="distance")
    assert spells["age_known"].all()
    first = spells.filter(pl.col("unit_no") == 1)
    assert first["vehicle_id"].n_unique() == 164  # two engines were found failed while their bus joined
    buses = pl.read_csv(open_records("zurcher_buses") / "buses.csv", infer_schema_length=0)
    later = buses.filter(pl.col("purchased") != pl.col("obs_begin"))["bus_id"]
    assert set(first.filter(pl.col("entry") > 0)["vehicle_id"]) >= set(later) & set(first["vehicle_id"])


def test_series_is_the_group_and_never_the_model(bus_dir):
    assert sorted(table(bus_dir, "vehicle")["series"].unique()) == [str(n) for n in range(1, 10)]


def test_every_bus_and_every_replacement_is_in_the_ledger(bus_dir):
    assert table(bus_dir, "vehicle").height == 166
    assert table(bus_dir, "record").filter(pl.col("action") == "replaced").height == 124


def test_disagreements_of_date_and_odometer_are_counted_with_what_was_done(bus_dir):
    """The README there: 49 of 124 replacements fall in the month whose readings bracket the stated odometer."""
    found = table(bus_dir, "data_quality").filter(pl.col("kind").str.contains("odometer"))
    rows = {row["kind"]: row for row in found.iter_rows(named=True)}
    disagree = [row for kind, row in rows.items() if "stated" in kind]
    assert disagree, list(rows)
    assert 60 <= sum(row["count"] for row in disagree) <= 90
    assert all(row["says"] for row in disagree)
