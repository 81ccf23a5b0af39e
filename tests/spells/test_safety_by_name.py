"""What is critical for safety where the components table says nothing (rule 39)."""

import csv
from pathlib import Path

import duckdb
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.safety import PATTERN, SIGNS, critical_by_name, sign_in
from tests.spells.history_of import history, job, places, rows

SCENARIO = Path(__file__).resolve().parents[2] / "sample_data" / "scenario"
TOLD = "select component, safety_critical, safety_told_by from component_fact order by component"


def told(*names, components=()):
    lines = [job("2001-03-09", name, record_id=f"R{k}") for k, name in enumerate(names)]
    return rows(history(repairs=lines, components=list(components)), TOLD)


@pytest.mark.parametrize(
    "name",
    [
        *("brake hose", "Brake_Servo", "rear wheel cylinder", "handbrake cable", "hand-brake lever", "caliper"),
        *("fuel hose", "petrol tank", "diesel pump", "LPG valve", "carburettor", "injector", "injection pump"),
        *("gas accumulator", "hydraulic line", "ride-height valve", "steering rack", "track rod end", "tie rod"),
        *("balljoint", "wheel-bearing", "wheel hub", "kingpin", "coil spring", "front strut", "suspension arm"),
        *("damper", "shock absorber", "wishbone", "control arm", "airbag unit", "belt pretensioner", "seatbelt"),
        *("stub axle", "hub carrier", "swivel pin", "drop arm", "track arm", "pedal box", "gas tank"),
        *("Bremsschlauch", "Kraftstoffpumpe", "Lenkgetriebe", "frein arrière", "freno posteriore"),
        *("anti-lock sensor", "CNG bottle", "pressure vessel", "gas sphere", "tire rear", "wheel rim", "torsion bar"),
        *("anti-roll bar link", "road wheel", "valve spring", "starter battery"),
        *("battery", "lifting eye", "jack point", "front subframe", "sill left", "vacuum hose", "one-way valve"),
    ],
)
def test_rule_39_a_name_that_sounds_critical_is_taken_for_it(name):
    assert critical_by_name(name)
    assert told(name) == [(name, True, "by name")]


@pytest.mark.parametrize(
    "name",
    ["window motor", "coolant hose", "flap actuator", "engine", "unbraked axle", "bucket", "oil pressure switch"],
)
def test_rule_39_other_names_are_not(name):
    assert not critical_by_name(name)
    assert told(name) == [(name, False, "nobody")]


def test_rule_39_the_word_that_made_a_part_critical_is_told():
    assert sign_in("Valve-Spring", "engine") == "spring"
    assert sign_in("inlet valve", "Fuel") == "fuel"
    assert sign_in("window motor", None) is None


@pytest.mark.parametrize("stated", [True, False])
def test_rule_39_what_the_components_table_states_wins(stated):
    table = places("fuel hose", ("one",), safety_critical=stated)
    assert told("fuel hose", components=table) == [("fuel hose", stated, "stated")]


def test_rule_39_one_position_stated_is_enough_and_an_empty_cell_states_nothing():
    mixed = [*places("fuel hose", ("one",)), *places("fuel hose", ("two",), safety_critical=False)]
    assert told(components=mixed) == [("fuel hose", False, "stated")]
    assert told(components=places("fuel hose", ("one",))) == [("fuel hose", True, "by name")]


def test_rule_39_the_declared_system_counts_as_a_name():
    assert told(components=places("hose", ("one",), system="Fuel")) == [("hose", True, "by name")]
    assert told(components=places("hose", ("one",), system="Cooling")) == [("hose", False, "nobody")]


@given(st.text(alphabet="abekrfuls -_é.1", max_size=12), st.sampled_from(sorted(sum(SIGNS.values(), ()))))
def test_the_database_finds_what_python_finds(text, sign):
    for name in (text, text + sign, sign.upper() + text):
        found = duckdb.execute("select regexp_matches(lower($name), $pattern)", {"name": name, "pattern": PATTERN})
        assert found.fetchone() == (critical_by_name(name),)


def test_the_demo_states_it_of_every_component():
    with (SCENARIO / "components.csv").open(encoding="utf-8") as file:
        assert {row["safety_critical"] for row in csv.DictReader(file)} == {"yes", "no"}


def test_rule_39_twenty_records_without_a_components_table_give_no_life_of_a_brake_hose(twenty_dir):
    from analytics.snapshot import latest_path, open_snapshot, read_table

    with open_snapshot(latest_path(twenty_dir)) as connection:
        models = read_table(connection, "life_model")
        quality = read_table(connection, "data_quality", kind="component taken as safety-critical by its name")
    critical = models.filter("safety_critical")
    assert {"brake hose", "fuel hose", "hydraulic line"} <= set(critical["component"])
    assert set(critical["safety_told_by"]) == {"by name"}
    assert "window motor" not in critical["component"].to_list()
    assert quality["count"].item() >= 5
    assert "brake hose (“brake”)" in quality["says"].item()
