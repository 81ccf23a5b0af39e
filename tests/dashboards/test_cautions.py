"""Cautions: shown for every system that can hurt, always deferring to those who may decide."""

import csv
from pathlib import Path

import pytest

from analytics.safety import SIGNS
from dashboards.cautions import BY_NAME, CAUTIONS, DEFER, SAFETY, cautions

SCENARIO = Path(__file__).resolve().parents[2] / "sample_data" / "scenario"


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("front brake hose", "Brakes stop the car"),
        ("Fuel lift pump", "Fuel vapour ignites"),
        ("gas accumulator", "Stored gas and fluid pressure"),
        ("battery", "gas that explodes"),
        ("Coolant hose", "scalds"),
        ("coil spring", "that of the car's weight"),
        ("one-way valve", "brake servo may share this vacuum"),
        ("airbag unit", "a charge that fires"),
        ("trigger unit", "Ignition voltage can kill"),
        ("exhaust manifold", "poisons unseen"),
        ("track rod end", "keep the car on the road"),
        ("jack point cover", "jack alone falls"),
        ("clutch lining", "asbestos"),
    ],
)
def test_a_system_is_known_by_its_name(name, says):
    assert any(says in text for text in cautions(name))


def test_the_system_counts_when_the_component_does_not_tell():
    assert cautions("distributor cap", "Ignition")
    assert cautions("hose, short", "Brakes")[0].startswith("Brakes stop the car")
    assert cautions("hose, short") == ()


def test_a_pump_that_lifts_fuel_is_no_car_on_a_jack():
    assert not any("jack" in text for text in cautions("Fuel lift pump"))


def test_the_flag_speaks_first_whatever_the_name():
    assert cautions("thing", safety=True) == (SAFETY,)
    assert cautions("fuel hose", safety=True)[0] == SAFETY
    assert len(cautions("brake servo vacuum hose with spring, fuel", safety=True)) == 3


def test_it_is_said_where_only_the_name_tells_and_how_to_say_otherwise():
    told = "Taken as safety-critical by its name{}; the components table can say otherwise: safety_critical = no."
    assert told == BY_NAME
    assert cautions("thing", safety=True, by_name=True) == (f"{SAFETY} {told.format('')}",)
    assert cautions("Valve-Spring", safety=True, by_name=True)[0].endswith(told.format(", for “spring”"))
    assert "by its name" not in " ".join(cautions("fuel hose", safety=True) + cautions("fuel hose"))


def test_every_sign_that_makes_a_part_critical_has_a_caution():
    assert all(len(cautions(sign)) >= 1 for signs in SIGNS.values() for sign in signs)


@pytest.mark.parametrize("name", ["brake_hose", "Ball-joint", "oneway valve"])
def test_a_name_is_known_however_its_words_are_joined(name):
    assert cautions(name)


def test_every_caution_defers_and_forbids_one_thing():
    for caution in CAUTIONS:
        assert caution.text.endswith(DEFER)
        assert caution.never.startswith("never ")
    assert all(word in DEFER for word in ("maker's manual", "local rules", "qualified person"))


def test_no_caution_allows_a_part_to_run_longer():
    words = " ".join(caution.text for caution in CAUTIONS) + SAFETY
    assert "safe to" not in words
    assert "until" not in words


@pytest.mark.skipif(not SCENARIO.is_dir(), reason="the demo's scenario is not in this copy")
def test_every_safety_critical_part_of_the_demo_gets_more_than_the_flag():
    with (SCENARIO / "components.csv").open(encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    flagged = [row for row in rows if row["safety_critical"] == "yes"]
    assert flagged
    for row in flagged:
        assert len(cautions(row["component"], row["system"], safety=True)) >= 2, row
