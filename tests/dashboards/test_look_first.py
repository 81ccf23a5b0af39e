"""Where to look first, and what readings say: sentences against frozen rows, the page with much, little and nothing."""

import json
import re
from datetime import date

import polars as pl
import pytest

from dashboards.answers import checks, readings
from dashboards.answers import replay as replay_said
from dashboards.charts.ladder import check_ladder
from dashboards.charts.readings import readings_over_years
from dashboards.charts.sheet import ROLES
from tests.dashboards.snapshot_rows import AS_OF, Fleet, frame, write
from tests.dashboards.visits import drawings, opened, said

CELL = {"complaint": "no charge", "series": "S2", "basis": "own", "own_jobs": 40, "family_jobs": 12}
KNOWN = {"minutes_from": "stated", "access_minutes": 0.0, "times_best_of_100": 83, "probability": 0.3}


def steps(*found, **more):
    """Rows of a ladder: component, minutes, chance that the fault is found by then."""
    rows, clock = [], 0.0
    for number, (component, minutes, found_by_now) in enumerate(found, start=1):
        clock += minutes or 0.0
        after = None if minutes is None else clock
        rows.append(
            {**CELL, **KNOWN, "step": number, "component": component, "minutes": minutes, "minutes_after": after}
            | {"found_by_now": found_by_now, "jobs": 7}
            | more
        )
    return rows


def ladder(*rows):
    return frame("check_order", list(rows))


LADDER = steps(("battery", 4.0, 0.3), ("alternator", 8.0, 0.5), ("regulator", 10.0, 0.93))


def test_start_at_one_then_the_next():
    assert checks.sentence(ladder(*LADDER)) == (
        "Start at battery, then alternator: after 12 minutes 10 of 20 such cars are solved."
    )
    assert checks.sentence(ladder(*steps(("fuse", 2.0, 0.01)))) == (
        "Start at fuse: after 2 minutes fewer than 1 of 20 such cars is solved."
    )
    assert "19 of 20" in checks.sentence(ladder(*steps(("fuse", 2.0, 0.999))))


def test_a_tie_is_said_as_one():
    rows = [LADDER[0] | {"tied": True}, *LADDER[1:]]
    assert checks.sentence(ladder(*rows)) == "Battery or alternator first: the records do not prefer one."
    three = [row | {"tied": True} for row in LADDER[:2]] + [LADDER[2]]
    assert checks.sentence(ladder(*three)) == "Battery, alternator or regulator first: the records do not prefer one."
    later = [LADDER[0], LADDER[1] | {"tied": True}, LADDER[2]]
    assert checks.sentence(ladder(*later)).startswith("Start at battery: after 4 minutes 6 of 20")


def test_safety_comes_first_and_outside_the_order():
    rows = [LADDER[0] | {"safety_first": True, "times_best_of_100": None}, *LADDER[1:]]
    assert checks.sentence(ladder(*rows)).startswith(
        "First the safety-critical part: battery. Then start at alternator, then regulator: after 22 minutes"
    )
    every = [row | {"safety_first": True} for row in LADDER]
    assert checks.sentence(ladder(*every)) == (
        "First the safety-critical parts, by name: battery, alternator and regulator. "
        "After 22 minutes 19 of 20 such cars are solved."
    )


def test_what_must_be_known_beside_it():
    told = checks.first_answer(ladder(*LADDER), 21, 5, AS_OF)
    assert told.state == "ink"
    assert "**40 closed jobs**  ·  21 cars" in told.evidence
    assert told.notes[0] == "Battery comes first in 83 of 100 plausible worlds."
    assert told.notes[-1] == checks.SELECTION
    none = checks.first_answer(ladder(*[row | {"none_found": 3} for row in LADDER]), 21, 5, AS_OF)
    assert "Three further jobs with this complaint ended without anything found, and are left out." in none.notes


def test_more_records_than_jobs_are_explained():
    listed = pl.DataFrame({"record_id": [f"J{k % 40}" for k in range(42)]})
    assert checks.several_causes(ladder(*LADDER), listed) == (
        "Some jobs ended at two causes or more and are listed at each of them."
    )
    assert checks.several_causes(ladder(*LADDER), listed.head(40)) == ""
    one = ladder(*[row | {"own_jobs": 1} for row in LADDER])
    assert checks.several_causes(one, listed.head(2)) == (
        "The job ended at two causes or more and is listed at each of them."
    )


def test_few_jobs_are_in_pencil():
    borrowed = [row | {"basis": "family", "own_jobs": 2} for row in LADDER]
    told = checks.first_answer(ladder(*borrowed), 2, 5, AS_OF)
    assert told.state == "pencil"
    assert "borrowed from the other series" in told.evidence
    assert told.notes[0] == (
        "Pencilled in. With only two closed jobs of its own, this series borrows from the others: twelve jobs with "
        "this complaint."
    )
    few = checks.first_answer(ladder(*[row | {"basis": "few", "own_jobs": 3} for row in LADDER]), 2, 5, AS_OF)
    assert few.notes[0].startswith("Pencilled in: 3 of the 5 closed jobs needed for a firm figure")


def test_without_minutes_the_order_is_by_chance_and_says_so():
    rows = steps(("battery", None, 0.3), ("fuse", None, 0.5), access_minutes=None, minutes_from="unknown")
    assert checks.sentence(ladder(*rows)) == "Start at battery, then fuse: by then 10 of 20 such cars are solved."
    assert any(
        "No minutes of a check are known" in note for note in checks.first_answer(ladder(*rows), 2, 5, AS_OF).notes
    )
    assert checks.rungs(ladder(*rows))["to"].to_list() == [1.0, 2.0]
    typical = [LADDER[0] | {"minutes_from": "typical"}, *LADDER[1:]]
    assert "stands in for battery" in " ".join(checks.first_answer(ladder(*typical), 2, 5, AS_OF).notes)


def test_rungs_fall_in_time_and_open_each_cover_once():
    rows = [LADDER[0] | {"access_minutes": 20.0, "cover": "fascia"}, *LADDER[1:]]
    drawn = checks.rungs(ladder(*rows))
    assert drawn.select("start", "opened", "to").rows() == [(0, 20, 24), (24, 24, 32), (32, 32, 42)]
    assert drawn["note"][0] == "24 min · found by now in 6 of 20"
    assert "to open “fascia”, once" in checks.captions(ladder(*rows))[0]
    # 19 of 20 are solved by the last rung, and complements add up to 20
    assert "After all of them 1 of 20 such cars is still unsolved." in checks.captions(ladder(*rows))[0]


def test_long_ladders_are_cut_and_counted():
    rows = ladder(*steps(*((f"part {k:02d}", 3.0, 0.05 * k) for k in range(12))))
    assert checks.rungs(rows).height == checks.MOST_ROWS
    assert "Three more checks in the snapshot's table" in checks.captions(rows)[0]


def replay(checked, minutes, more, low, high):
    return {"checked": checked, "jobs": 4936, "vehicles": 316, "minutes": minutes} | {
        "more": more,
        "more_lower": low,
        "more_upper": high,
    }


def test_the_replay_is_one_sentence():
    rows = [
        replay("chance over minutes", 36.3, 0, 0, 0),
        replay("as first recorded", 39.7, 3.4, 2.9, 3.9),
        replay("alphabetical", 36.0, -0.3, -0.9, 0.4),
    ]
    assert replay_said.replayed(frame("check_replay", rows)) == (
        "Tried out on 4936 closed jobs of 316 cars and all complaints, each with only the records before it, this "
        "order took 36 minutes of checks on average; the order in which the causes were first recorded 3.4 more (could "
        "be 2.9 to 3.9) and the alphabetical one could not be told from it (\u22120.90 to +0.40 minutes)."
    )
    assert replay_said.replayed(frame("check_replay", [])) == ""


def test_no_job_on_this_series_is_said_and_where_there_are_some():
    rows = frame("complaint", [{"complaint": "no charge", "series": "S1", "outcome": "found", "record": "R/1"}])
    assert checks.none_here("no charge", "S2", rows) == (
        "No closed job names this complaint on this series.",
        ("On other series its cause was found: S1 (1 job).",),
    )
    none = frame("complaint", [{"complaint": "no charge", "series": "S2", "outcome": "no fault found"}])
    assert checks.none_here("no charge", "S2", none)[0] == (
        "One closed job names this complaint on this series, and none a cause."
    )


DRIFT = {"component": "battery", "unit": "V", "readings": 126, "vehicles": 101, "lowest": 11.9, "highest": 12.9}
DRIFT |= {"limit_lower": 12.4, "below": 18, "within": 108, "source": "common practice, no source", "status": "ok"}
DRIFT |= {"per_year": 0.005, "per_year_lower": -0.015, "per_year_upper": 0.024, "read_again": 22}


@pytest.mark.parametrize(
    ("more", "says"),
    [
        ({}, "Of 126 readings of the battery, 18 lie below 12.4 V."),
        ({"below": 1, "limit_upper": 12.8, "above": 2}, "1 lies below 12.4 V and 2 lie above 12.8 V."),
        ({"below": 0}, "Of 126 readings of the battery none outside its limits: at least 12.4 V."),
        ({"limit_lower": None, "below": 0}, "126 readings of the battery: between 11.9 and 12.9 V. No limit is stated"),
    ],
)
def test_readings_against_their_limits(more, says):
    row = frame("reading_drift", [DRIFT | more]).row(0, named=True)
    assert says in readings.sentence(row)


def test_readings_over_the_years():
    row = frame("reading_drift", [DRIFT]).row(0, named=True)
    assert readings.change(row) == (
        "No change over the years can be told, each car compared with itself: "
        "it could be \u22120.015 to +0.024 V a year."
    )
    falls = row | {"per_year": -0.2, "per_year_lower": -0.31, "per_year_upper": -0.12}
    assert readings.change(falls).startswith("They fall by about 0.20 V a year (could be 0.12 to 0.31)")
    few = row | {"status": "too few", "read_again": 1}
    assert readings.change(few).startswith("One car was read more than once: too little to say")
    notes = readings.answer(row | {"converted": 4, "units_apart": 1}, AS_OF).notes
    assert "Limit: common practice, no source." in notes
    assert any("Four readings were recorded in another unit" in note and "are kept apart" in note for note in notes)


def test_no_colour_is_written_into_the_drawings():
    rows = [LADDER[0] | {"tied": True, "access_minutes": 3.0}, LADDER[1] | {"safety_first": True}, LADDER[2]]
    taken = [
        {"read_on": date(2020, 1, day), "value": float(day), "lower": 2.0, "verdict": v, "record": f"R{day}"}
        for day, v in ((1, "below"), (3, "within"))
    ]
    reading = frame("check_reading", taken).rename({"record": "record_id"})
    for chart in (check_ladder(checks.rungs(ladder(*rows))), readings_over_years(reading, "V")):
        spec = json.dumps(chart.to_dict())
        assert not re.search(r"#[0-9a-fA-F]{3,8}\b", spec)
        assert not re.search(r'"(color|fill|stroke)": "', spec)
        used = set(re.findall(r'"datum": "(\w+)"', spec))
        assert {"petrol", "ink"} <= used <= set(ROLES)
        assert not re.search(r"\b(NaN|Infinity)\b", spec)


@pytest.fixture(scope="module")
def shop(tmp_path_factory):
    """A snapshot with a ladder on S2, none on S1, and readings."""
    fleet = Fleet()
    fleet.car("a", "S2")
    fleet.car("b", "S1")
    lines = [fleet.job("a", date(2020, 1, day), name, None) for day, name in ((1, "battery"), (9, "alternator"))]
    fleet.rows["check_order"] = LADDER
    fleet.rows["complaint"] = [
        {
            "record": line,
            "vehicle_id": "a",
            "series": "S2",
            "complaint": "no charge",
            "component": name,
            "outcome": "found",
        }
        for line, name in zip(lines, ("battery", "alternator"), strict=True)
    ]
    fleet.rows["reading_drift"] = [DRIFT]
    fleet.rows["check_reading"] = [
        {"record": lines[0], "vehicle_id": "a", "series": "S2", "component": "battery", "unit": "V", "value": 12.1}
        | {"measured": 12.1, "measured_unit": "V", "lower": 12.4, "verdict": "below", "read_on": date(2020, 1, 1)}
    ]
    return write(tmp_path_factory.mktemp("shop"), fleet.rows, "2026-11-24-shop0001")


def test_the_page_cautions_above_the_answer_and_draws_a_ladder(shop, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(shop))
    page = opened("look-first")
    text = said(page)
    assert not page.exception
    assert drawings(page) == 2
    assert "Start at battery, then alternator" in text
    assert "18 lie below 12.4 V" in text
    kinds = [element.type for element in page.main if element.type in ("warning", "subheader")]
    assert kinds.index("warning") < kinds.index("subheader")
    assert any("A battery gives off gas" in warning.value for warning in page.warning)


def test_a_series_without_such_a_job_says_so(shop, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(shop))
    text = said(opened("look-first", **{"on-series": "S1"}))
    assert "No closed job names this complaint on this series." in text
    assert "S2 (2 jobs)" in text


def test_without_a_complaint_the_page_says_what_to_load(tmp_path, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(write(tmp_path, {}, "2026-11-24-none0001")))
    page = opened("look-first")
    assert "No complaint is known yet." in said(page)
    assert drawings(page) == 0
