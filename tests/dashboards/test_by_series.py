"""Failures by series as well as by slot, by the car's age as well as by its distance, on page Where it fails."""

import pytest

from dashboards.answers import slots
from dashboards.answers.apart import SERIES, SLOTS
from tests.dashboards.snapshot_rows import AS_OF, Fleet, frame, group, write
from tests.dashboards.visits import drawings, opened, said

COUNTED = {
    **{"component": "hose", "trend": "steady", "vehicles": 9, "vehicle_years": 90.0},
    **{"rate_per_100_vehicle_years": 10.0, "rate_lower": 5.0, "rate_upper": 18.0},
}
FAILURES = {
    **{("all", "all"): 30, ("left", "all"): 16, ("right", "all"): 14},
    **{("all", "S1"): 21, ("all", "7"): 9, ("left", "S1"): 12, ("right", "S1"): 9},
}


def intervals():
    return [{**COUNTED, "position": p, "series": s, "failures": n} for (p, s), n in FAILURES.items()]


def test_a_component_is_told_apart_by_slots_or_by_series():
    every = frame("failure_interval", intervals())
    by_slot, by_series = SLOTS.of(every), SERIES.of(every)
    assert slots.table(by_slot, SLOTS)["slot"].to_list() == ["all slots", "left", "right"]
    told = slots.table(by_series, SERIES)
    assert told["series"].to_list() == ["all series", "S1", "series 7"]
    assert told["failures"].to_list() == [30, 21, 9]
    row = by_series.filter(position="7").row(0, named=True)
    assert slots.slot_answer(row, AS_OF, apart=SERIES).sentence.startswith("Hose, series 7: about 10 failures a year")


def test_the_faults_of_a_series_are_those_of_its_cars():
    rows = [{"position": "left", "series": "S1", "position_inferred": True}, {"position": "right", "series": "S2"}]
    faults = frame("fault", rows)
    assert SERIES.faults(faults, "S1").height == 1
    assert SLOTS.faults(faults, "left").height == 0
    assert SERIES.faults(faults, "all").height == SLOTS.faults(faults, "all").height == 2


@pytest.fixture
def page(tmp_path, monkeypatch):
    made = Fleet()
    for k, series in enumerate(["S1", "7"] * 6):
        made.car(f"car-{k}", series)
    made.rows["failure_interval"] = intervals()
    for grouping, levels in (("component", ["all"]), ("position", ["left", "right"]), ("series", ["S1", "7"])):
        for level in levels:
            for scale, step in (("age", 400), ("distance", 9000)):
                of = group("hose", grouping, level, scale)
                made.rows["mean_cumulative"] += [
                    {**of, "time": step * k, "at_risk": 9, "events": 1, "mcf": k / 9, "lower": k / 20, "upper": k / 5}
                    for k in range(1, 8)
                ]
    monkeypatch.setenv("WEARLEDGER_DATA", str(write(tmp_path, made.rows, "2026-11-24-series01")))
    return lambda **query: opened("where", **query)


def test_the_page_tells_a_series_in_words_curve_and_table(page):
    test = page(apart="series")
    assert not test.exception
    assert "Hose, S1: about 10 failures a year in 100 cars (could be 5.0 to 18)." in said(test)
    assert "All series together: no trend to see." in said(test)
    assert drawings(test) == 1
    tables = [table.value for table in test.dataframe]
    assert [list(t["series"]) for t in tables if "usual gap" in t.columns] == [["all series", "S1", "series 7"]]


@pytest.mark.parametrize("apart", ["slot", "series"])
def test_the_curve_is_drawn_along_the_cars_distance_where_asked(page, apart):
    assert "age of the car, years" in str(page(apart=apart).get("vega_lite_chart")[0].proto)
    by_distance = page(apart=apart, scale="distance")
    assert not by_distance.exception
    assert "distance of the car, thousand km" in str(by_distance.get("vega_lite_chart")[0].proto)
