"""Which places a page names, what it could have noticed, and what faults without a place could change."""

from datetime import date, timedelta

import polars as pl
import pytest

from dashboards.answers import places
from dashboards.answers.said import Said, told_of_fleet
from tests.dashboards.snapshot_rows import AS_OF, Fleet, write
from tests.dashboards.test_other_answers import located
from tests.dashboards.visits import opened
from tests.dashboards.visits import said as told


def test_a_place_is_sure_only_where_chance_seldom_makes_any_place_stand_out_as_much():
    likely = {"probability_above_one": 0.99}
    shown = located({"location": "a", "scan_p": 0.05, **likely}, {"location": "b", "scan_p": 0.049, **likely})
    assert shown.filter("sure")["location"].to_list() == ["b"]
    assert not located({"location": "a", "scan_p": None, **likely})["sure"].any()


@pytest.mark.parametrize(
    ("sure", "more", "said"),
    [
        (True, {"scan_p_blanks_elsewhere": 0.01}, "Even if all of them belonged elsewhere, a would still stand out."),
        (True, {"scan_p_blanks_elsewhere": 0.4}, "If all of them belonged elsewhere, a might no longer stand out."),
        (False, {"scan_p_blanks_here": 0.01}, "If all of them belonged to one place, it would stand out."),
        (False, {"scan_p_blanks_here": 0.2}, "Even if all of them belonged to one place, it would not stand out."),
    ],
)
def test_what_faults_without_a_place_could_change_is_said(sure, more, said):
    row = {"location": "a", "blanks": 4, "probability_above_one": 0.99 if sure else 0.5, **more}
    assert places.blanks_could(located(row)) == said
    assert places.blanks_could(located(row | {"blanks": 0})) == ""


def test_the_excess_that_could_have_been_noticed_is_said():
    said = places.noticed(located(*({"location": name, "detectable_ratio": 2.6} for name in "abc")))
    assert said == "With so many visits we could only be sure of places with about 2.6 times as many as by chance."


def test_a_fault_in_an_area_within_another_one_is_counted_once():
    shown = located(
        {"location": "body", "observed": 12},
        {"location": "cabin", "observed": 9},
        {"location": "front", "parent": "body", "observed": 7},
        {"location": "rear", "parent": "body", "observed": 5},
        {"location": "door", "parent": "front", "observed": 7},
        {"location": "boot", "parent": "rear", "observed": 5},
        {"location": "seat", "parent": "cabin", "observed": 9},
    )
    areas, single = (places.of_level(shown, wide=flag) for flag in (True, False))
    assert (areas.height, single.height) == (4, 3)
    for level in (areas, single):
        said = places.place_answer(level, 12, 21, AS_OF)
        assert "make" not in "".join(said.notes)
        assert "**21 faults**" in said.evidence
        assert "21 faults at" in said.sentence


@pytest.mark.parametrize("sure", [True, False])
def test_places_of_few_cars_are_in_pencil(sure):
    more = {"probability_above_one": 0.99 if sure else 0.5, "vehicles": 5}
    shown = located(*({"location": name, **more} for name in "ab"))
    fleet, few = (places.place_answer(shown, cars, 10, AS_OF) for cars in (5, 4))
    assert (fleet.state, few.state) == ("ink", "pencil")
    assert few.evidence.startswith(":material/edit: **in pencil**, few cars stand behind it  ·  **ten faults**")
    assert few.evidence.endswith("two places  ·  four cars  ·  records to 24 Nov 2026")
    assert (few.sentence, few.notes) == (fleet.sentence, fleet.notes)


def test_a_place_of_few_cars_is_in_pencil_however_many_cars_its_series_has():
    shown = located({"location": "a", "probability_above_one": 0.99, "vehicles": 4})
    assert places.place_answer(shown, 200, 5, AS_OF).state == "pencil"
    assert shown["few"].to_list() == [True]
    calm = located({"location": "a", "probability_above_one": 0.5, "vehicles": 4})
    assert places.place_answer(calm, 200, 5, AS_OF).state == "ink"


def test_faults_become_visits_to_a_place_with_a_word():
    assert places.counted_once(2690, 2699, 0) == (
        "A place counts once a visit, however many parts failed there: 2699 faults make 2690 visits."
    )
    assert places.counted_once(9, 11, 2) == "Two visits are left out: no car of another series was watched at that age."
    assert places.counted_once(11, 11, 0) == ""


def test_visits_that_cannot_be_compared_with_other_series_are_counted():
    rows = [{"location": name, "series": "S3", "observed": seen} for name, seen in (("a", 9), ("b", 4))]
    other = {"basis": "same place, other series"}
    every = located(*rows, *({**row, **other, "observed": row["observed"] - 2} for row in rows))
    assert places.not_compared(every, every.filter(pl.col("basis") == other["basis"])) == 4
    assert places.not_compared(every, every.filter(pl.col("basis") == places.AVERAGE)) == 0


@pytest.mark.parametrize("state", ["pencil", "one-sided", "blank"])
def test_what_is_not_in_ink_stays_as_it_is_for_few_cars(state):
    said = Said(state, "Lamp.", "as told")
    assert told_of_fleet(said, 1, AS_OF) == said


def test_a_rate_and_a_trend_of_one_car_are_in_pencil(tmp_path, monkeypatch):
    fleet = Fleet()
    fleet.car("bus 1", "bus", built_on=None)
    for k in range(6):
        fleet.job("bus 1", date(2019, 1, 8) + timedelta(days=150 * k), "lamp", None, series="bus")
    fleet.rows["failure_interval"].append(
        {"component": "lamp", "position": "only", "series": "all", "failures": 6, "vehicles": 1, "events_used": 6}
        | {"vehicle_years": 2.5, "rate_per_100_vehicle_years": 240.0, "rate_lower": 105.0, "rate_upper": 474.0}
        | {"trend": "worsening"}
    )
    write(tmp_path, fleet.rows, "2026-11-24-onecar01")
    monkeypatch.setenv("WEARLEDGER_DATA", str(tmp_path))
    text = told(opened("where", component="lamp"))
    assert "Lamp: about 240 failures a year in 100 cars" in text
    assert "**in pencil**, few cars stand behind it  ·  **six failures**  ·  one car" in text
    front = told(opened("in-short"))
    assert "Lamp fails more often than before." in front
    assert "**in pencil**  ·  :gray[six failures on one car]" in front
