"""Seven jobs with one complaint, worked by hand from the rows of a feed to the ladder and a reading."""

from fractions import Fraction

import pytest

from analytics.parameters import Parameters
from analytics.recurrence.look_first import look_first
from analytics.spells.complaints import read_complaints
from tests.spells.history_of import car, history, job

SAID = "no charge"
PARTS = {"battery": (4, "floor well", "no"), "regulator": (8, "bay", "no"), "alternator": (10, "bay", "no")}


def line(vehicle_id, closed_on, component, **more):
    return job(closed_on, component, vehicle_id=vehicle_id, symptom=SAID, **more)


@pytest.fixture(scope="module")
def tables():
    components = [
        {
            "component": name,
            "system": "charging",
            "check_minutes": minutes,
            "location": place,
            "safety_critical": critical == "yes",
        }
        for name, (minutes, place, critical) in PARTS.items()
    ]
    connection = history(
        vehicles=[*(car(name, "S2") for name in "ABCDE"), car("F", "S1")],
        components=components,
        locations=[{"location": "floor well", "access_minutes": 8.0}, {"location": "bay"}],
        limits=[{"component": "battery", "measured_unit": "V", "lower": 12.4}],
        repairs=[
            line("A", "2015-02-01", "battery", measured=12_100.0, measured_unit="mV"),
            line("B", "2016-02-01", "battery"),
            line("C", "2016-05-01", "regulator"),
            line("D", "2017-02-01", "alternator"),
            line("E", "2018-02-01", "alternator"),
            line("E", "2019-06-01", "battery", reason="no fault found", action="inspected"),
            line("F", "2019-02-01", "battery"),
        ],
    )
    said = read_complaints(connection)
    feed = {name: connection.table(name).pl() for name in ("locations", "limits", "component_fact")}
    return look_first(said.cause, said.fact, said.reading, feed, Parameters())


def test_the_ladder_by_hand(tables):
    # own jobs 2, 1, 2; the other series' one job weighs one, for the battery; one for what nobody met: 3, 1, 2 of 7
    chance = {"battery": Fraction(3, 7), "regulator": Fraction(1, 7), "alternator": Fraction(2, 7)}
    # 19 of 20 imagined checks found their fault, and each job that found one did
    finds = {"battery": Fraction(22, 23), "regulator": Fraction(20, 21), "alternator": Fraction(21, 22)}
    # worth a minute: battery 0.410 over 8 + 4, alternator 0.273 over 10, regulator 0.136 over 8
    rows = tables["check_order"].filter(tables["check_order"]["series"] == "S2").to_dicts()
    assert [row["component"] for row in rows] == ["battery", "alternator", "regulator"]
    left, spent = Fraction(1), Fraction(0)
    for row, minutes in zip(rows, (8 + 4, 10, 8), strict=True):
        spent += left * minutes
        left -= chance[row["component"]] * finds[row["component"]]
        assert row["probability"] == pytest.approx(float(chance[row["component"]]))
        assert row["expected_minutes_so_far"] == pytest.approx(float(spent))
        assert row["found_by_now"] == pytest.approx(float(1 - left))
        assert (row["own_jobs"], row["family_jobs"], row["none_found"], row["basis"]) == (5, 1, 1, "own")
    assert [row["access_minutes"] for row in rows] == [8.0, 0.0, 0.0]


def test_the_replay_by_hand(tables):
    # F came on 2019-02-01: before it five jobs on the other series, all three causes; B, C and D met one cause or two.
    # D and E: known are battery and regulator, then the alternator too; D's cause was met by nobody, so it is left out,
    # and so are A, B (one candidate) and C. Left: E and F.
    rows = {row["checked"]: row for row in tables["check_replay"].to_dicts()}
    assert {row["jobs"] for row in rows.values()} == {2}
    assert {row["never_met"] for row in rows.values()} == {3}
    # alphabetical: alternator, battery, regulator: E 10, F 10 + 12
    assert rows["alphabetical"]["minutes"] == (10 + 22) / 2
    # as first recorded: battery, regulator, alternator: E 12 + 8 + 10, F 12
    assert rows["as first recorded"]["minutes"] == (30 + 12) / 2
    # chance over minutes: E knows battery 2, regulator 1, alternator 1 of 4 own jobs: battery 0.4 over 12, regulator
    # 0.2 over 8, alternator 0.2 over 10; F borrows five jobs' weight at 2, 1, 2 of 5: alternator 0.33 over 10 first,
    # then battery 0.33 over 12. Two jobs show that the best order on average may lose on some
    assert rows["chance over minutes"]["minutes"] == (30 + 22) / 2


def test_the_reading_by_hand(tables):
    (row,) = tables["check_reading"].to_dicts()
    assert (row["value"], row["unit"], row["verdict"]) == (12.1, "V", "below")
    (drift,) = tables["reading_drift"].to_dicts()
    assert (drift["readings"], drift["below"], drift["converted"], drift["status"]) == (1, 1, 1, "too few")
