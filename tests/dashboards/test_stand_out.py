"""The front page's lines of faults and repairs, and the numbers a page offers to take along."""

from datetime import date

import pytest

from dashboards import data
from dashboards.answers import checks, short, stand_out
from tests.dashboards.snapshot_rows import Fleet, frame, write
from tests.dashboards.test_look_first import LADDER, ladder, steps
from tests.dashboards.visits import opened, said


def with_checks(folder, orders):
    """Write a snapshot of eight cars of two series with one complaint, and the ladder given; return it."""
    fleet = Fleet()
    for k in range(8):
        fleet.car(f"car {k}", f"S{1 + k % 2}")
        line = fleet.job(f"car {k}", date(2020, 1, 1 + k), "battery", None)
        told = {"record": line, "vehicle_id": f"car {k}", "series": "S2", "complaint": "no charge"}
        fleet.rows["complaint"].append({**told, "component": "battery", "outcome": "found"})
    fleet.rows["check_order"] = orders
    return write(folder, fleet.rows, "2026-11-24-check001")


def test_the_front_page_names_where_to_look_first(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(with_checks(tmp_path, LADDER)))
    (line,) = stand_out.first_checks(data.current())
    assert line.sentence == (
        "No charge, S2: start at battery, then alternator: after 12 minutes 10 of 20 such cars are solved."
    )
    assert line.why == "40 closed jobs on eight cars; battery comes first in 83 of 100 plausible worlds"
    assert (line.state, line.page, line.choices) == ("ink", "look-first", {"on-series": "S2"})
    assert line.sentence in said(opened("in-short"))


@pytest.mark.parametrize(
    "orders",
    [[], LADDER[:1], [LADDER[0] | {"tied": True}, *LADDER[1:]], [row | {"basis": "family"} for row in LADDER]],
    ids=["none", "one check", "tied", "borrowed"],
)
def test_where_the_records_prefer_no_first_check_the_front_page_says_nothing(orders, tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(with_checks(tmp_path, orders)))
    assert stand_out.first_checks(data.current()) == []


def test_a_modification_that_helped_is_told_once(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    snapshot = data.current()
    (line,) = stand_out.modifications(snapshot)
    assert line.sentence == (
        "Flap actuator: SL-7102 helped: ten failures since, where about 24 would have come without it."
    )
    assert line.why == "40 cars; 0.42 times as many (could be 0.21 to 0.83)"
    assert not [each for each in short.standing(snapshot) if "still work" in each.sentence]


def test_a_fault_left_on_a_part_critical_for_safety_says_so(folders, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    (line,) = [each for each in short.standing(data.current()) if each.page == "one-car"]
    assert line.sentence == "One fault was found and left on one car, critical for safety."
    assert "(front brake hose)" in line.why


def test_a_check_is_worth_what_it_saves_against_the_last_place():
    saved = [33.05, -0.46, 4.1, -2.0, 0.0]
    rows = [
        row | {"minutes_saved": value}
        for row, value in zip(steps(*((f"part {k}", 3.0, 0.1 * k) for k in range(1, 6))), saved, strict=True)
    ]
    assert checks.worth(ladder(*rows)) == (
        "What a check is worth at its turn, against leaving it to the end, on jobs that come so far: "
        "part 1 saves about 33 minutes, part 2 "
        "costs about 0.46 minutes, part 3 saves about 4.1 minutes, part 4 costs about 2.0 minutes."
    )
    assert checks.worth(ladder(rows[0])) == ""
    assert checks.worth(ladder(rows[0] | {"safety_first": True}, rows[1] | {"step": 2})) == ""
    assert checks.worth(frame("check_order", LADDER)) == ""


def test_lives_are_told_by_what_wears_the_part():
    from tests.dashboards.snapshot_rows import group, model_row

    both = [model_row(group("hose", scale=scale), 9, 9, 4000.0, default_grouping=True) for scale in ("age", "distance")]
    models = frame("life_model", both)
    for verdict, scale in (("distance", "distance"), ("age", "age"), ("cannot be told", "age")):
        wears = frame("scale_choice", [{"component": "hose", "verdict": verdict}])
        assert [row["scale"] for row in short._main_lives(models, wears)] == [scale]


@pytest.mark.parametrize(
    ("page", "choices", "files"),
    [
        ("where", {}, 3),
        ("lasting", {"component": "flap actuator"}, 1),
        ("lasting", {"component": "fuel hose"}, 0),
        ("held", {}, 1),
        ("in-short", {}, 1),
    ],
)
def test_what_is_shown_can_be_taken_along_and_no_life_of_a_safety_critical_part(
    page, choices, files, folders, monkeypatch
):
    monkeypatch.setenv("WEARLEDGER_DATA", str(folders["rich"]))
    test = opened(page, **choices)
    assert not test.exception
    assert [each.label for each in test.get("download_button")] == ["These numbers as CSV"] * files
    assert "14 cars · 184 visits" in said(test)
