"""Ten jobs typed into the workbook: days in every way a person writes them, then load, analyse, look."""

from datetime import date, datetime

import polars as pl
import pytest

from analytics.cli import main
from tests.first_hour.workbook import typed
from tests.snapshot_tables import table

CARS = [
    {"vehicle_id": "blue coupe", "series": "S2", "built_on": 1974},
    {"vehicle_id": "green saloon", "series": "S2", "built_on": "05.1978"},
    {"vehicle_id": 7, "series": "S3", "built_on": date(1984, 3, 9)},
]
PLACES = [
    {"component": "flap actuator", "position": "screen", "system": "Heating"},
    {"component": "flap actuator", "position": "foot", "system": "Heating"},
    {"component": "window motor", "position": "front left", "system": "Electrics"},
]
DAYS = {
    date(2024, 5, 3): "03.05.2024",
    date(2024, 6, 4): "4/6/2024",
    date(2024, 7, 5): date(2024, 7, 5),
    date(2024, 8, 6): datetime(2024, 8, 6, 17, 30),  # noqa: DTZ001 - a cell has no time zone
    date(2024, 9, 7): 45542,
    date(2024, 10, 8): "2024-10-08",
    date(2024, 11, 9): "09-11-2024",
    date(2024, 12, 10): "45636",
    date(2025, 1, 11): "11.1.2025",
    date(2025, 2, 12): "12.02.2025 09:15",
}
"""The day that is meant, and how it stands in the cell: text, a day of the spreadsheet, or its bare number."""


def jobs():
    for at, written in enumerate(DAYS.values()):
        yield {
            "record_id": 100 + at,
            "line_no": 1,
            "vehicle_id": CARS[at % 3]["vehicle_id"],
            "closed_on": written,
            "odometer": 61_000 + 100 * at,
            "odometer_unit": "mi",
            "component": "flap actuator" if at % 2 else "window motor",
            "position": "screen" if at % 2 else "front left",
            "action": "replaced",
            "reason": "failure",
            "part_no": "007-A" if at % 2 else 8102,
            "quantity": 1,
        }


@pytest.fixture(scope="module")
def book(template, tmp_path_factory):
    shelf = [{"part_no": "007-A", "counted_on": "12.02.2025", "on_hand": 2}]
    to = tmp_path_factory.mktemp("typed") / "jobs.xlsx"
    return typed(template, to, vehicles=CARS, repairs=list(jobs()), components=PLACES, stock=shelf)


@pytest.fixture(scope="module")
def data(book, tmp_path_factory):
    data = tmp_path_factory.mktemp("ten")
    assert main(["load", str(book), "--data", str(data)]) == 0
    assert main(["analyse", "--data", str(data)]) == 0
    return data


def test_every_way_of_writing_a_day_is_read_as_the_day_that_is_meant(data):
    read = table(data, "record").sort("record_id")
    assert read["closed_on"].to_list() == list(DAYS)
    assert read["vehicle_id"].unique().sort().to_list() == ["7", "blue coupe", "green saloon"]


def test_a_year_or_a_month_of_building_is_taken_for_its_middle(data):
    built = dict(table(data, "vehicle").select("vehicle_id", "built_on").iter_rows())
    assert built == {"7": date(1984, 3, 9), "blue coupe": date(1974, 7, 1), "green saloon": date(1978, 5, 15)}


def test_a_number_of_a_part_keeps_its_zeros_and_nothing_of_the_examples_is_loaded(data):
    assert table(data, "record")["part_no"].unique().sort().to_list() == ["007-A", "8102"]
    for name in ("record", "vehicle", "reorder", "unit_now"):
        assert "EXAMPLE" not in str(table(data, name).rows())


def test_miles_that_were_chosen_from_the_list_are_read_as_miles(data):
    first = table(data, "record").filter(pl.col("record_id") == "100")
    assert first["odometer_km"].item() == pytest.approx(61_000 * 1.609344)  # an international mile in km, exactly


def test_the_places_on_the_sheet_components_are_those_of_every_car(data):
    placed = table(data, "unit_now").select("component", "position").unique().sort("component", "position")
    assert placed.rows() == [("flap actuator", "foot"), ("flap actuator", "screen"), ("window motor", "front left")]


def test_the_count_of_the_shelf_gives_an_order(data):
    row = table(data, "reorder").filter(pl.col("part_no") == "007-A").row(0, named=True)
    assert (row["on_hand"], row["repairs"]) == (2.0, 5)
    assert row["order_quantity"] == max(0, row["reorder_point"] - 2)


def test_two_more_jobs_below_the_ten_are_two_new_rows(book, data, tmp_path, capsys):
    more = [*jobs(), {**next(jobs()), "record_id": 200}, {**next(jobs()), "record_id": 201}]
    to = typed(book, tmp_path / "jobs.xlsx", repairs=more)
    assert main(["load", str(to), "--data", str(data)]) == 0
    assert "2 new, 17 unchanged, 0 revised, 0 quarantined" in capsys.readouterr().out


def test_a_day_that_cannot_be_told_waits_in_quarantine_and_says_what_to_type(template, tmp_path, capsys):
    rows = [{**next(jobs()), "closed_on": "03.05.24"}, {**next(jobs()), "record_id": 2, "closed_on": "31.02.2024"}]
    undated = [{**car, "built_on": None} for car in CARS]
    to = typed(template, tmp_path / "jobs.xlsx", vehicles=undated, repairs=rows)
    assert main(["load", str(to), "--data", str(tmp_path / "data")]) == 0
    said = capsys.readouterr().err
    assert "'03.05.24 (may be 1924-05-03 or 2024-05-03)' is not certain: write the year with four digits" in said
    assert "'2024-02-31' is no day of the calendar: correct it" in said
    assert "2 rows quarantined" in said


def test_a_day_with_a_two_digit_year_is_certain_where_the_car_was_not_yet_built_a_hundred_years_before(
    template, tmp_path, capsys
):
    to = typed(template, tmp_path / "jobs.xlsx", vehicles=CARS, repairs=[{**next(jobs()), "closed_on": "03.05.24"}])
    assert main(["load", str(to), "--data", str(tmp_path / "data")]) == 0
    assert "0 quarantined" in capsys.readouterr().out


def test_jobs_of_the_last_weeks_alone_give_no_rate_yet_and_say_so(template, tmp_path):
    rows = [{**job, "closed_on": f"{day}.10.2025"} for day, job in enumerate(jobs(), start=10)]
    to = typed(template, tmp_path / "jobs.xlsx", vehicles=CARS, repairs=rows)
    assert main(["load", str(to), "--data", str(tmp_path / "data")]) == 0
    assert main(["analyse", "--data", str(tmp_path / "data")]) == 0
    said = table(tmp_path / "data", "reorder")["reason"].unique().to_list()
    assert said == ["Too little to say: the first visit of a car that takes it was less than two months ago."]
