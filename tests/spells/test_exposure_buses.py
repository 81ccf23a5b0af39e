"""Real records: engine lives of 166 city buses against the published frame of J. Rust (1987) and R.

Reference: R survival 3.5-3, ``survfit(Surv(entry, exit, event) ~ 1)`` on 290 engine lives in miles, made from the
odometer stated at each replacement (``R_CHECK.txt`` beside the data; the command stands in its first lines).
"""

from datetime import date
from pathlib import Path

import polars as pl
import pytest

from analytics.estimators import kaplan_meier
from analytics.ledger import default_as_of, load, open_ledger
from analytics.parameters import Parameters
from analytics.records import map_feed, parse_mapping
from analytics.scales import miles_to_km
from analytics.spells.exposure import build_exposure

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / ".." / "shared" / "open_data" / "zurcher_buses"
MAPPING = ROOT / "sample_data" / "mappings" / "zurcher_buses.toml"

MEDIAN_MILES = 234_800  # R_CHECK.txt, median with delayed entry
SURVIVAL = {150_000: 0.8874439, 200_000: 0.6743161, 250_000: 0.4323417, 300_000: 0.1924985}  # R_CHECK.txt, $surv
CONTRADICTED = 75  # README.md: 63 below the reading of their month, 12 above the next one


@pytest.fixture(scope="module")
def buses(tmp_path_factory):
    if not DATA.is_dir():
        pytest.skip(f"the open data are not here: {DATA.name}")
    folder = tmp_path_factory.mktemp("buses")
    load(folder, map_feed(DATA, parse_mapping(MAPPING)), loaded_on=date(2020, 1, 1))
    with open_ledger(folder, write=False) as connection:
        return build_exposure(connection, default_as_of(connection), Parameters())


def test_the_median_engine_life_on_distance_is_that_of_the_stated_odometers(buses):
    lives = buses.spell.filter((pl.col("scale") == "distance") & pl.col("age_known"))
    curve = kaplan_meier(lives)
    median = curve.filter(pl.col("survival") <= 0.5)["time"].min()
    assert median == pytest.approx(miles_to_km(MEDIAN_MILES), rel=0.03)
    for miles, survival in SURVIVAL.items():
        reached = curve.filter(pl.col("time") <= miles_to_km(miles))["survival"].min()
        assert reached == pytest.approx(survival, abs=0.015), miles


def test_every_disagreement_is_counted_with_what_was_done(buses):
    rows = buses.left_out.filter(pl.col("kind").str.starts_with("odometer stated at a repair"))
    assert rows["count"].sum() == CONTRADICTED
    assert rows["out_of"].unique().to_list() == [124]
    assert rows["says"].str.contains("stated one").all()


def test_no_reading_of_the_buses_is_set_aside(buses):
    assert buses.reading.filter(pl.col("total_km").is_null()).is_empty()


def test_all_replacements_are_used_or_left_out_by_reason(buses):
    ages = buses.spell.filter(pl.col("scale") == "age")
    assert ages.height == 286
    assert ages["event"].sum() == 120
    # two replaced within 60 days of the first reading, two after the last neutral reading
    left = buses.left_out.filter(pl.col("kind").str.starts_with("part not used for lives"))
    assert dict(left.select("kind", "count").rows()) == {
        "part not used for lives: fitted after the last neutral visit": 2,
        "part not used for lives: joining fault": 2,
    }


def test_the_share_without_a_distance_is_nought(buses):
    assert buses.left_out.filter(pl.col("kind").str.contains("without a distance")).is_empty()
