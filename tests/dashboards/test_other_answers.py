"""What is said about places, slots, shelf and cars."""

from datetime import date

import polars as pl
import pytest

from dashboards.answers import car, designs, places, shelf, slots, trends
from dashboards.answers.short import cannot_tell
from tests.dashboards.snapshot_rows import AS_OF, frame

LOCATED = {"series": "all", "basis": "average place", "observed": 5, "vehicles": 3, "expected": 4.6, "ratio": 1.1}
LIMITS = {"lower": 0.4, "upper": 2.2, "shrunken_ratio": 1.05, "probability_above_one": 0.55, "scan_p": 0.01}


def located(*rows):
    return places.ready(frame("fault_location", [{**LOCATED, **LIMITS, **row} for row in rows]))


def test_a_place_is_sure_above_ninety_five_of_a_hundred():
    shown = located({"location": "a", "probability_above_one": 0.95}, {"location": "b", "probability_above_one": 0.951})
    assert shown.filter("sure")["location"].to_list() == ["b"]
    assert shown["location"].to_list() == ["b", "a"]


def test_no_place_standing_out_is_an_answer():
    said = places.place_answer(located({"location": "a"}, {"location": "b"}), 12, 10, AS_OF)
    assert said.sentence.startswith("No place stands out: ten faults at two places, and none has more than chance")
    assert said.notes == (
        "Chance gives a usual place a fault on about 4.6 visits here: "
        "a place with three times as many would be noticed about every second time.",
    )


def test_limits_that_do_not_hold_the_ratio_shown_are_not_shown():
    row = located({"location": "a", "observed": 3, "expected": 0.3, "lower": 2.7, "upper": 26.0, "shrunken_ratio": 2.2})
    assert row["shrunken_lower"].to_list() == [None]
    assert "could be" not in places.place_sentence(row.drop("shrunken_lower").row(0, named=True) | {"shown_lower": 2.7})


def test_areas_are_told_from_the_places_they_hold():
    shown = located({"location": "underbody"}, {"location": "sill", "parent": "underbody"})
    assert places.of_level(shown, wide=True)["location"].to_list() == ["underbody"]
    assert places.of_level(shown, wide=False)["location"].to_list() == ["sill"]


INTERVAL = {"component": "engine", "position": "only", "series": "all", "failures": 4, "vehicles": 9}
RATE = {"vehicle_years": 90.0, "rate_per_100_vehicle_years": 4.44, "rate_lower": 1.52, "rate_upper": 10.2}


def interval(**more):
    return frame("failure_interval", [{**INTERVAL, **RATE, **more}]).row(0, named=True)


@pytest.mark.parametrize(
    ("more", "sentence"),
    [
        ({"failures": 5}, "Engine: about 4.4 failures a year in 100 cars (could be 1.5 to 10)."),
        (
            {"failures": 0, "rate_upper": 3.33},
            "Engine: no failure in 90 car-years: up to 3.3 a year in 100 cars is still possible.",
        ),
        (
            {"vehicle_years": 0.0, "rate_per_100_vehicle_years": None},
            "Engine: four failures, and no time watched to set it against.",
        ),
    ],
)
def test_a_slot_is_said_with_its_rate(more, sentence):
    assert slots.slot_answer(interval(**more), AS_OF).sentence == sentence


@pytest.mark.parametrize(("failures", "state"), [(4, "pencil"), (5, "ink")])
def test_a_rate_from_few_failures_is_pencilled(failures, state):
    assert slots.slot_answer(interval(failures=failures), AS_OF).state == state


@pytest.mark.parametrize(
    ("verdict", "said"),
    [
        ("worsening", "more often than before"),
        ("improving", "less often than before"),
        ("steady", "no trend to see"),
        ("too little to say", "too little to say"),
    ],
)
def test_a_trend_is_said_in_words(verdict, said):
    assert trends.verdict(interval(trend=verdict)) == said


MASS = pl.DataFrame({"quantity": [0, 1, 2, 3], "probability": [0.1, 0.4, 0.3, 0.2]})


def test_twenty_outlooks_share_the_distribution_out():
    counts = shelf.outlooks(MASS)["need"].value_counts().sort("need")
    assert counts["count"].to_list() == [2, 8, 6, 4]


@pytest.mark.parametrize(("level", "quantity"), [(0.05, 0), (0.5, 1), (0.8, 2), (0.81, 3), (1.0, 3)])
def test_enough_is_the_smallest_quantity_with_that_chance(level, quantity):
    assert shelf.enough(MASS, level) == quantity


def reordered(**more):
    row = {"repairs": 9, "service_level": 0.9, "on_hand": 1.0, "pack_size": 2, "reason": "Why.", "horizon_days": 40.0}
    return frame("reorder", [{**row, **more}]).row(0, named=True)


def test_the_snapshots_own_proposal_stands_at_its_own_service_level():
    assert shelf.proposal(reordered(order_quantity=12), MASS, "2 of 20") == 12
    assert shelf.proposal(reordered(order_quantity=12), MASS, "4 of 20") == 2
    assert shelf.proposal(reordered(on_hand=3.0), MASS, "1 of 20") == 0


def test_what_is_reserved_cannot_be_counted_on():
    assert shelf.held(reordered(on_order=2.0, reserved=4.0)) == 0.0
    assert shelf.held(reordered(on_hand=None)) is None


def test_without_a_count_the_need_is_still_said():
    said = shelf.shelf_answer(reordered(on_hand=None, repairs=2), shelf.outlooks(MASS), 0, AS_OF)
    assert (
        said.sentence == "No stock count is known. In 18 of 20 outlooks at most three parts are needed within 40 days."
    )
    assert said.state == "pencil"


def test_one_fault_without_a_place_is_said_in_the_singular():
    assert places.no_place(3, 1) == "1 of 3 faults names no place and is not counted here."
    assert places.no_place(3, 2) == "2 of 3 faults name no place and are not counted here."
    assert places.no_place(9, 4, 3) == "4 of 9 faults name no place (on 3 visits) and are not counted here."


def test_the_nearest_horizon_is_looked_up():
    demand = pl.concat([MASS.with_columns(horizon_days=pl.lit(h)) for h in (30.0, 55.0, 90.0)])
    assert shelf.at_horizon(demand, 54.0)["horizon_days"].unique().to_list() == [55.0]


CAR = {"vehicle_id": "C1", "series": "S2", "first_seen": date(2014, 1, 1), "last_seen": date(2024, 1, 1), "visits": 5}
CAR |= {"left_on": None, "built_on": None}
PLACE = {"vehicle_id": "C1", "component": "battery", "position": "only"}


NO_PLACES = pl.DataFrame(schema={"component": pl.String, "position": pl.String})


def jobs(*rows):
    return frame("record", [{"record": f"R{k}/1", "record_id": f"R{k}", **PLACE, **row} for k, row in enumerate(rows)])


def test_a_bar_runs_from_one_fitting_to_the_next_and_to_the_last_visit():
    records = jobs({"closed_on": date(2016, 5, 1)}, {"closed_on": date(2020, 5, 1)})
    units = frame("unit_now", [{**PLACE, "start_record": "R1/1"}])
    spells = frame("spell", [{**PLACE, "start_record": "R0/1"}, {**PLACE, "unit_no": 1}])
    bars = car.fitted_parts(spells, units, records, CAR)
    assert bars.select("start", "end", "fitted_still").rows() == [
        (None, date(2016, 5, 1), False),
        (date(2016, 5, 1), date(2020, 5, 1), False),
        (date(2020, 5, 1), date(2024, 1, 1), True),
    ]


def test_a_part_fitted_before_the_car_came_begins_with_the_watching():
    units = frame("unit_now", [{**PLACE, "fitted_on": date(1999, 1, 1)}])
    bars = car.fitted_parts(frame("spell", []), units, jobs(), CAR)
    assert bars.select("start", "end").rows() == [(CAR["first_seen"], CAR["last_seen"])]


def test_a_mark_says_what_the_snapshot_counted():
    records = jobs(
        {"reason": "not recorded", "closed_on": AS_OF},
        {"reason": "planned", "action": "inspected", "clean_check": True, "closed_on": AS_OF},
        {"reason": "planned", "action": "inspected", "closed_on": AS_OF},
        {"reason": "not recorded", "action": "inspected", "closed_on": AS_OF},
        {"reason": "no fault found", "action": "inspected", "closed_on": AS_OF},
        {"reason": "found at inspection", "action": "inspected", "closed_on": AS_OF},
        {"reason": "planned", "action": "replaced", "closed_on": AS_OF},
        {"reason": "accident", "action": "replaced", "closed_on": AS_OF},
        {"reason": "no fault found", "closed_on": AS_OF},
        {"component": None, "closed_on": AS_OF},
    )
    faults = frame("fault", [{"fault_record": "R0/1"}])
    assert car.events(records, faults, NO_PLACES)["kind"].to_list() == [
        "failed",
        "checked, good",
        "inspected",
        "inspected",
        "no fault found",
        "failed",
        "planned",
        "changed in passing",
        "no fault found",
    ]


def test_a_line_without_a_slot_belongs_to_the_only_one_there_is():
    blank = {"position": None, "closed_on": AS_OF}
    records = jobs(blank, {**blank, "component": "hose"}, {**blank, "component": "hose"})
    faults = frame("fault", [{"fault_record": "R2/1", "position": "top"}])
    places = pl.DataFrame({"component": ["battery", "hose", "hose"], "position": ["only", "top", "bottom"]})
    marks = car.events(records, faults, places).sort("record_id")
    assert marks["position"].to_list() == ["only", "all", "top"]


def test_a_car_not_seen_for_a_year_is_said_to_be_away():
    assert car.gone(CAR, AS_OF) == "Not seen since 1 Jan 2024, 2.9 years before these records end."
    assert car.gone(CAR, date(2024, 6, 1)) == ""
    assert car.gone(CAR | {"left_on": date(2024, 2, 1)}, AS_OF) == "Left care on 1 Feb 2024."


def test_what_the_records_cannot_tell_begins_with_the_largest_share():
    rows = [
        {"kind": "a", "count": 37, "says": "mend it"},
        {"kind": "b", "count": 3, "share": 0.001, "says": "kept"},
        {"kind": "c", "count": 25, "share": 0.25, "says": "left out"},
        {"kind": "d", "count": 0, "share": 0.9, "says": "nothing"},
    ]
    assert cannot_tell(frame("data_quality", rows)) == [
        ("25 (25 of 100)", "c: left out"),
        ("3 (fewer than 1 of 100)", "b: kept"),
        ("37", "a: mend it"),
    ]


def test_two_designs_are_compared_where_their_bands_lie_apart():
    a = pl.DataFrame(
        {"time": [1, 2, 3], "survival": [0.9, 0.8, 0.5], "lower": [0.8, 0.7, 0.4], "upper": [1.0, 0.9, 0.6]}
    )
    b = pl.DataFrame(
        {"time": [1, 2, 4], "survival": [0.8, 0.4, 0.1], "lower": [0.7, 0.3, 0.0], "upper": [0.9, 0.5, 0.2]}
    )
    found = designs.widest(a, b)
    assert found is not None
    assert [row["time"] for row in found] == [2, 2]
    assert designs.widest(a, a) is None


def test_only_two_firm_designs_make_a_pair():
    of = {"component": "c", "grouping": "variant", "scale": "age", "basis": "own", "status": "ok"}
    rows = [{**of, "level": name, "failures": n} for name, n in (("new", 9), ("old", 7), ("rare", 2), ("unknown", 99))]
    assert [row["level"] for row in designs.pair(frame("life_model", rows), 5)] == ["new", "old"]
    assert designs.pair(frame("life_model", rows[1:]), 5) == []


def test_a_component_without_named_slots_goes_by_its_own_name():
    both = frame("failure_interval", [{**INTERVAL, **RATE, "position": name} for name in ("all", "only")])
    assert slots.table(both)["slot"].to_list() == ["engine"]
    named = frame("failure_interval", [{**INTERVAL, **RATE, "position": name} for name in ("all", "left")])
    assert slots.table(named)["slot"].to_list() == ["all slots", "left"]


def slot_rows(**failures):
    return frame("failure_interval", [{**INTERVAL, **RATE, "position": p, "failures": n} for p, n in failures.items()])


def test_failures_without_a_slot_have_a_row_of_their_own_so_that_the_rows_add_up():
    told = slots.table(slot_rows(all=21, left=9, right=7))
    assert dict(told.select("slot", "failures").iter_rows()) == {
        "all slots": 21,
        "left": 9,
        "right": 7,
        slots.UNTOLD: 5,
    }
    assert told["failures"][0] == told["failures"][1:].sum()
    assert told.row(3, named=True)["a year in 100 cars"] is None
    assert slots.UNTOLD not in slots.table(slot_rows(all=16, left=9, right=7))["slot"].to_list()
    assert slots.table(slot_rows(all=21))["slot"].to_list() == ["engine"]


def test_a_slots_own_figure_tells_of_failures_without_a_slot():
    rows = slot_rows(all=21, left=9, right=7)
    said = slots.slot_answer(rows.row(1, named=True), AS_OF, slots.without_slot(rows))
    assert said.notes[-1].startswith("Five more failures name no slot: counted in all slots together")
    assert slots.slot_answer(rows.row(0, named=True), AS_OF, 5).notes == ("Over the years: too little to say.",)


def few(**more):
    return located(
        *({"location": name, "observed": 1, "vehicles": 1, "expected": 1.0, "ratio": 1.0, **more} for name in "abc")
    )


def test_a_test_that_could_notice_nothing_puts_no_place_in_ink():
    said = places.place_answer(few(), 3, 3, AS_OF)
    assert said.state == "blank"
    assert said.sentence == "No place can be told from another yet: three faults at three places."
    assert "in ink" not in said.evidence
    assert "noticed seldom" in said.notes[0]
    assert places.counts(few()).rows() == [("a", 1, 1), ("b", 1, 1), ("c", 1, 1)]


def test_a_place_that_is_sure_is_told_among_few_faults_too():
    shown = pl.concat(
        [few(), located({"location": "d", "probability_above_one": 0.99, "expected": 1.0, "vehicles": 5})]
    )
    assert not places.cannot_tell(shown)
    assert places.place_answer(shown.sort("sure", descending=True), 5, 10, AS_OF).state == "ink"
