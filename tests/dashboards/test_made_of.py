"""What a page's numbers are made of, what is left out and why, and the same numbers as CSV."""

import csv
import io
from datetime import date

import polars as pl
import pytest

from dashboards import take_along
from dashboards.answers import curves, held, left_out, numbers, places, slots, trends, turns_on
from dashboards.answers.apart import SLOTS
from dashboards.charts.held import held_or_not
from dashboards.data import Snapshot
from tests.dashboards.held_rows import held_row
from tests.dashboards.snapshot_rows import AS_OF, frame, group, model_row
from tests.dashboards.test_other_answers import interval, located

FAULT = {"vehicle_id": "a", "component": "hose", "position": "top", "reads_as": "failure", "used": True}
SHOT = Snapshot("", "2026-11-24-made0001", AS_OF, {})


def faults(*rows):
    return frame("fault", [{**FAULT, "fault_record": f"R{k}", **row} for k, row in enumerate(rows)])


LATE = {"used": False, "why_unused": "after the last neutral visit"}
JOINED = {"used": False, "why_unused": "joining fault"}


def test_failures_left_out_are_told_with_their_reason():
    every = faults({}, {}, LATE, JOINED, JOINED)
    assert left_out.told(every, 5, 2) == (
        "5 failures are recorded, 2 used; left out: 1 after the car's last visit for anything else, 2 found when the "
        "car joined."
    )
    assert left_out.told(every, 2, 2) == ""
    # reasons that do not add up are not told, nor those of a snapshot that has none
    assert left_out.told(every, 9, 2) == "9 failures are recorded, 2 used."
    assert left_out.told(every.drop("why_unused"), 5, 2) == "5 failures are recorded, 2 used."


def test_a_life_says_which_failures_stand_in_no_curve():
    model = {**model_row(group("hose"), 1, 9, None), "events_seen": 3, "events_used": 2}
    said = left_out.of_lives(faults({}, {}, LATE), model)
    assert said.startswith("3 failures are recorded, 2 used; left out: 1 after")
    assert said.endswith(
        "1 more count as failures but stand in no curve: of parts that had failed before and were "
        "repaired in place, or were fitted used."
    )
    kind = left_out.of_lives(faults({}, {}, LATE), {**model, "grouping": "series"})
    assert "recorded of this component in all its kinds, 2 used" in kind
    assert "no curve" not in kind


def test_the_last_line_counts_cars_visits_jobs_and_failures():
    cars = frame("vehicle", [{"vehicle_id": "a", "visits": 12_345}, {"vehicle_id": "b", "visits": 5}])
    records = frame("record", [{"record": f"R{k}/1", "record_id": f"R{k}"} for k in range(3)])
    every = faults({}, LATE, {"component": "none", "used": False, "why_unused": "place only"})
    assert left_out.of_all(cars, records, every) == (
        " · 2 cars · 12\u202f350 visits · 3 closed jobs · 2 faults, 1 of them counted in lives and rates; left out: "
        "1 after the car's last visit for anything else."
    )
    assert left_out.of_all(cars.head(0), records, every) == ""
    assert "1 fault, all counted in lives" in left_out.of_all(cars, records, faults({}))


def test_of_a_slot_only_failures_that_name_it_count_and_inspections_are_told():
    every = faults({"reads_as": "found at inspection"}, {"position_inferred": True}, {"position": "bottom"}, {})
    assert SLOTS.faults(every, "top").height == 2
    assert SLOTS.faults(every, "all").height == 4
    assert slots.inspected(SLOTS.faults(every, "top"), 2).startswith("1 of 2 failures was found at inspection")
    assert slots.inspected(every.filter(pl.col("reads_as") == "failure"), 3) == ""


CHANGE = {"yearly_change": 0.956, "yearly_change_lower": 0.93, "yearly_change_upper": 0.98}


def test_a_trend_says_its_change_a_year_with_limits():
    assert trends.told(interval(trend="improving", **CHANGE)) == (
        "Over the years: less often than before, each year about 4.4 % fewer (could be 7.0 to 2.0 % fewer), each car "
        "compared with itself."
    )


def test_without_a_trend_it_is_said_what_would_have_been_noticed():
    limits = {"yearly_change": 1.0, "yearly_change_lower": 0.97, "yearly_change_upper": 1.04}
    row = interval(trend="steady", **limits, detectable_yearly_change=1.05)
    assert trends.told(row, "All slots together") == (
        "All slots together: no trend to see (could be 3.0 % fewer to 4.0 % more a year). A change to 5.0 % more a "
        "year would have been noticed in 8 of 10 such fleets."
    )
    older = {name: value for name, value in row.items() if "yearly" not in name}
    assert trends.told(older) == "Over the years: no trend to see."


@pytest.mark.parametrize(
    ("more", "said"),
    [
        ({"failures": 5, "vehicles": 5}, "in ink"),
        ({"failures": 4, "vehicles": 9}, "in pencil: few failures"),
        ({"failures": 9, "vehicles": 4}, "in pencil: few cars"),
        ({"failures": 0}, "one-sided"),
        ({"vehicle_years": 0.0}, "left blank"),
    ],
)
def test_the_table_of_slots_says_how_each_rate_is_known(more, said):
    assert slots.known(interval(**more)) == said


def test_other_ways_of_counting_are_one_quiet_sentence():
    rows = [("as shown", 4000.0), ("last visit", 3700.0), ("known age only", 4400.0), ("day of analysis", 9000.0)]
    told = frame("sensitivity", [{"choice": name, "scale": "age", "life50": life} for name, life in rows])
    assert turns_on.in_short(told, "ink", "age") == (
        "Counted in other ways, half of all such parts together last 10 to 12 years: see “What this figure turns on” "
        "below."
    )
    assert turns_on.in_short(told, "ink", "distance").startswith("Taken by age, half of all such parts")
    assert turns_on.in_short(told, "one-sided", "age") == ""
    assert turns_on.in_short(told.head(1), "ink", "age") == ""


def test_a_fence_above_all_repairs_ends_at_all_of_them():
    row = held_row("pump", "repaired", 4, 1, (9.0, 4, 14))
    rows = held.ready(frame("repeat_repair", [row]), "action")
    assert rows.select("chance", "chance_most").row(0) == (100.0, 100.0)
    assert held.sentence(rows.row(0, named=True), 90).endswith("chance alone gives 100.")
    assert held_or_not(rows, days=90, end=held.reach(rows)).to_dict()


def rows_of(content):
    return list(csv.DictReader(io.StringIO(content.decode())))


def test_every_row_of_a_csv_says_where_it_comes_from_and_runs_nothing():
    told = take_along.table_of(SHOT, pl.DataFrame({"place": ["=1+1", "sill"], "times": [1.23456789, None]}))
    assert rows_of(told) == [
        {"place": "'=1+1", "times": "1.2346", "records_to": "2026-11-24", "snapshot": SHOT.name},
        {"place": "sill", "times": "", "records_to": "2026-11-24", "snapshot": SHOT.name},
    ]


def test_a_curve_as_csv_says_where_it_goes_on_in_pencil():
    law = pl.DataFrame({"time": [0.0, 5.0, 9.0], "survival": [1.0, 0.5, 0.1], "lower": [1.0, 0.4, None]})
    told = numbers.of_life(law.with_columns(upper="survival"), "age", "ink", 5.0)
    assert told.columns[0] == "years_since_fitted"
    assert told["known"].to_list() == ["in ink", "in ink", "in pencil"]
    assert told["still_working_of_100"].to_list() == [100.0, 50.0, 10.0]
    far = numbers.of_life(law.with_columns(upper="survival"), "distance", "one-sided", 5.0)
    assert far["km_since_fitted"].to_list()[-1] == 9.0 * curves.UNITS["distance"][1]
    assert set(far["known"]) == {"one-sided"}


def test_the_last_check_has_nothing_to_be_compared_with():
    steps = [{"step": k, "component": f"part {k}", "minutes_saved": 9.0, "times_best_of_100": 100} for k in (1, 2)]
    told = numbers.of_checks(frame("check_order", steps))
    assert told["best_next_in_of_100_worlds"].to_list() == [100, None]
    assert told["minutes_saved_against_last"].to_list() == [9.0, None]


def test_places_and_modifications_as_csv_hold_what_the_page_shows():
    told = numbers.of_places(located({"location": "a", "vehicles": 4}, {"location": "b", "vehicles": 6}))
    assert dict(told.select("place", "known").iter_rows()) == {"a": "in pencil", "b": "in ink"}
    assert set(told["compared_with"]) == {places.BASES[places.AVERAGE]}
    since = {"component": "hose", "modification": "new", "first_on": date(2020, 1, 1), "expected": 24.0, "ratio": 0.5}
    row = frame("before_after", [since]).row(0, named=True)
    assert numbers.of_modification(row)["expected_without_it"].to_list() == [None, 24.0, None]
