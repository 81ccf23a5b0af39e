"""Rule 36: visits with a fault at a place, places above once, expected on two bases."""

from datetime import date, timedelta

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.records.feed import LOCATIONS
from analytics.recurrence.locations import AVERAGE_PLACE, OTHER_SERIES, fault_locations
from analytics.recurrence.places import place_tree, without_circles

START = date(2010, 1, 1)


def locations(*rows):
    return pl.DataFrame(
        [{**dict.fromkeys(LOCATIONS.names), "location": name, "parent": parent} for name, parent in rows],
        schema=LOCATIONS.schema,
    )


TREE = locations(("body", None), ("rear", "body"), ("arch left", "rear"), ("arch right", "rear"), ("lamp", "rear"))


def faults(*rows):
    """Rows of car, series, days after the start, order, place, reading."""
    return pl.DataFrame(
        [(car, series, START + timedelta(days=d), order, place, reads) for car, series, d, order, place, reads in rows],
        schema={
            "vehicle_id": pl.String,
            "series": pl.String,
            "visit_day": pl.Date,
            "record_id": pl.String,
            "location": pl.String,
            "reads_as": pl.String,
        },
        orient="row",
    )


def vehicles(*rows):
    """Rows of car, series, year built, years in care."""
    return pl.DataFrame(
        [
            (car, series, date(built, 1, 1), START, START + timedelta(days=round(365.25 * y)))
            for car, series, built, y in rows
        ],
        schema={
            "vehicle_id": pl.String,
            "series": pl.String,
            "built_on": pl.Date,
            "first_seen": pl.Date,
            "last_seen": pl.Date,
        },
        orient="row",
    )


CARS = vehicles(("a", "S1", 1970, 5), ("b", "S1", 1970, 5), ("c", "S2", 1970, 10))


def counted(rows, basis=AVERAGE_PLACE, series="all", cars=CARS, tree=TREE):
    table = fault_locations(rows, cars, tree, Parameters())
    here = table.filter(pl.col("basis") == basis, pl.col("series") == series)
    return {row["location"]: row for row in here.iter_rows(named=True)}


def test_rule_36_a_burst_of_lines_on_one_visit_counts_once():
    rows = faults(*[("a", "S1", 10, "R1", "arch left", "failure")] * 4, ("b", "S1", 20, "R2", "arch left", "failure"))
    assert counted(rows)["arch left"]["observed"] == 2
    assert counted(rows)["arch left"]["orders"] == 2
    assert counted(rows)["arch left"]["vehicles"] == 2


def test_rule_36_a_place_above_counts_a_visit_once():
    rows = faults(
        ("a", "S1", 10, "R1", "arch left", "failure"),
        ("a", "S1", 10, "R1", "arch right", "failure"),
        ("a", "S1", 10, "R1", "rear", "found at inspection"),
    )
    found = counted(rows)
    assert (found["rear"]["observed"], found["body"]["observed"]) == (1, 1)
    assert (found["arch left"]["observed"], found["arch right"]["observed"]) == (1, 1)


def test_rule_36_planned_and_passing_work_is_no_fault_and_blanks_are_not_filled_in():
    rows = faults(
        ("a", "S1", 10, "R1", "lamp", "planned"),
        ("a", "S1", 20, "R2", "lamp", "changed in passing"),
        ("a", "S1", 30, "R3", None, "failure"),
        ("a", "S1", 40, "R4", "lamp", "consequence"),
    )
    assert counted(rows)["lamp"]["observed"] == 1


def test_rule_36_the_average_place_shares_the_faults_of_its_level():
    rows = faults(*(("a", "S1", 10 * n, f"R{n}", "arch left", "failure") for n in range(1, 7)))
    found = counted(rows)
    assert found["arch left"]["expected"] == pytest.approx(2.0)
    assert found["arch left"]["ratio"] == pytest.approx(3.0)
    assert found["lamp"]["observed"] == 0
    assert found["lamp"]["expected"] == pytest.approx(2.0)
    assert found["rear"]["expected"] == pytest.approx(6.0)
    assert 1 < found["arch left"]["shrunken_ratio"] < 3
    assert found["arch left"]["lower"] < 3 < found["arch left"]["upper"]


def test_rule_36_another_series_gives_the_rate_per_car_year_of_the_same_age():
    rows = faults(
        *(("a", "S1", 100 * n, f"R{n}", "lamp", "failure") for n in range(1, 7)),
        *(("c", "S2", 300 * n, f"Q{n}", "lamp", "failure") for n in range(1, 4)),
    )
    row = counted(rows, OTHER_SERIES, "S1")["lamp"]
    assert row["observed"] == 6
    assert row["expected"] == pytest.approx(3 / 10 * 10, rel=0.01)  # 3 faults in 10 car-years of S2, on 10 of S1


def test_rule_36_ages_that_the_other_series_never_reached_are_left_out_on_that_basis():
    cars = vehicles(("a", "S1", 1970, 5), ("c", "S2", 2000, 5))
    rows = faults(("a", "S1", 100, "R1", "lamp", "failure"), ("c", "S2", 100, "R2", "lamp", "failure"))
    assert counted(rows, OTHER_SERIES, "S1", cars=cars) == {}
    assert counted(rows, cars=cars)["lamp"]["observed"] == 2


def test_places_that_no_table_knows_stand_alone():
    rows = faults(("a", "S1", 10, "R1", "boot", "failure"))
    found = counted(rows, tree=locations())
    assert found["boot"]["observed"] == 1
    assert found["boot"]["parent"] is None


def test_no_place_recorded_gives_no_row():
    assert fault_locations(faults(("a", "S1", 1, "R", None, "failure")), CARS, locations(), Parameters()).is_empty()


CIRCLE = locations(("y", "z"), ("x", "y"), ("z", "x"), ("below", "z"), ("own", "own"), ("far", "unlisted"))


def test_a_circle_of_places_is_opened_at_its_smallest_one():
    told = {row["location"]: row for row in without_circles(CIRCLE).iter_rows(named=True)}
    assert [name for name, row in told.items() if row["in_circle"]] == ["y", "x", "z"]
    assert {name: row["parent"] for name, row in told.items()} == {
        "x": None,
        "y": "z",
        "z": "x",
        "below": "z",
        "own": None,
        "far": "unlisted",
    }
    tree = place_tree(CIRCLE, pl.Series([], dtype=pl.String))
    depth = {row["location"]: row["depth"] for row in tree.iter_rows(named=True) if row["location"] == row["ancestor"]}
    assert (depth["x"], depth["z"], depth["y"], depth["below"], depth["own"]) == (1, 2, 3, 3, 1)


def test_faults_in_a_circle_of_places_are_counted_and_its_top_is_shown_without_a_place_above():
    found = counted(faults(("a", "S1", 10, "R1", "below", "failure")), tree=CIRCLE)
    assert {name: row["observed"] for name, row in found.items() if row["observed"]} == {"below": 1, "z": 1, "x": 1}
    assert found["x"]["parent"] is None


def test_places_without_a_circle_are_handed_on_as_they_are():
    assert without_circles(TREE).drop("in_circle").equals(TREE)
    assert not without_circles(TREE)["in_circle"].any()


def test_a_deep_chain_of_places_is_no_circle():
    chain = locations(("p00", None), *((f"p{n:02d}", f"p{n - 1:02d}") for n in range(1, 40)))
    assert place_tree(chain, pl.Series(["p39"])).filter(pl.col("location") == "p39").height == 40


def test_a_series_called_all_is_not_counted_twice():
    rows = faults(
        *(("a", "all", 100 * n, f"R{n}", "lamp", "failure") for n in range(1, 7)),
        *(("c", "S2", 300 * n, f"Q{n}", "lamp", "failure") for n in range(1, 4)),
    )
    cars = CARS.with_columns(series=pl.col("series").replace("S1", "all"))
    assert counted(rows, cars=cars)["lamp"]["observed"] == 9
    table = fault_locations(rows, cars, TREE, Parameters())
    assert set(table.select("basis", "series").unique().iter_rows()) == {
        (AVERAGE_PLACE, "all"),
        (AVERAGE_PLACE, "S2"),
        (OTHER_SERIES, "S2"),
    }


def test_the_tree_tells_depth_and_everything_above():
    tree = place_tree(TREE, pl.Series(["lamp"]))
    lamp = {row["ancestor"]: row["depth"] for row in tree.iter_rows(named=True) if row["location"] == "lamp"}
    assert lamp == {"lamp": 3, "rear": 2, "body": 1}
