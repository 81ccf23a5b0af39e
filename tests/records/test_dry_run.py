"""A dry run says what a load would do, and proposes a mapping where there is none; nothing is loaded."""

import pytest
import xlsxwriter

from analytics.errors import FeedError
from analytics.records import describe, dry_run, judge, map_feed, parse_mapping, propose_mapping
from analytics.records.mapping_file import parse_mapping_text
from tests.records.feeds import LOADED_ON, feed, mapping

GERMAN = (
    "Job No;Car;Date out;Mileage (miles);Customer name;Complaint;Job type;Amount\n"
    "1;A1;23.04.99;112.345;Müller;leaks;REP;1.234,50\n"
    "2;A1;05.06.01;113.345;Müller;leaks;SERV;34,50\n"
)


def lines_of(folder, mapping_path=None) -> str:
    return "\n".join(dry_run(folder, mapping_path, loaded_on=LOADED_ON))


def test_a_native_feed_is_described_with_examples_of_everything_that_would_happen(tmp_path):
    repairs = "record_id,vehicle_id,closed_on,odometer,action,owner\nJ1,car1,2024,12x,replaced,Ann\n"
    repairs += "J2,car1,2024-05-02,1200,swapped,Ann\nJ3,car1,2024-06-02,1300,,Ann\nJ4,car1\n"
    found = lines_of(feed(tmp_path, repairs=repairs))
    assert "repairs: 4 row(s) from repairs.csv (4)" in found
    assert "to be loaded 2, to quarantine 2, values set aside 1" in found
    assert "row 1: record_id J1 | line_no 1 | vehicle_id car1 | closed_on 2024-07-01* | action replaced" in found
    assert "filled in or completed: closed_on, 1 row(s)" in found
    assert "odometer in km: 1 row(s)" in found
    assert "set aside: 1 x odometer, first in repairs.csv, row 1: odometer (odometer on arrival): '12x'" in found
    assert "to quarantine: 1 x action, first in repairs.csv, row 2: action (what was done): 'swapped'" in found
    assert "to quarantine: 1 x row, first in repairs.csv, row 4: 2 fields where the heading has 6" in found
    assert "note: repairs.csv: columns not read: owner" in found
    assert "Ann" not in found


def test_ten_rows_are_shown(tmp_path):
    text = "vehicle_id,series\n" + "".join(f"car{n},S1\n" for n in range(1, 31))
    found = lines_of(feed(tmp_path, vehicles=text))
    assert "row 10: vehicle_id car10 | series S1" in found
    assert "row 11:" not in found


def test_with_a_mapping_the_rows_are_shown_as_they_would_be_read(tmp_path):
    feed(tmp_path, jobs="Car,Day\na,31.12.2020\n")
    path = mapping(
        tmp_path,
        '[[repairs]]\nfile="jobs.csv"\ndate_order="dmy"\ncolumns={ vehicle_id="Car", closed_on="Day" }',
    )
    assert "vehicle_id a | closed_on 2020-12-31" in lines_of(tmp_path, path)


CONVERTED = """
source = "shop"
[[repairs]]
file = "jobs.csv"
date_order = "dmy"
decimal = ","
thousands = "."
columns = { vehicle_id = "Car", closed_on = "Day", labour_minutes = "Hours", reason = "Why", cost = "Paid" }
units = { labour_minutes = "h" }
constants = { action = "replaced" }
templates = { record_id = "{Year}-{No}" }
drop = ["Owner"]
values.reason = { WTY = "failure", "*" = "not recorded" }
text.component = { from = "Done", rules = [['\\bPUMP', "pump"], ['\\bHOSE', "hose"]] }
"""


def test_every_kind_of_conversion_is_told_with_a_count_and_an_example(tmp_path):
    rows = [
        "No,Year,Car,Day,Hours,Why,Paid,Owner,Done",
        '1,2020,a,31.12.2020,"1,5",WTY,"1.234,50",Ann Bell,FUEL PUMP ASK ANN',
        "2,2020,a,2020-12-30,2,???,12,Ann Bell,washed",
    ]
    feed(tmp_path, jobs="\n".join(rows) + "\n")
    found = lines_of(tmp_path, mapping(tmp_path, CONVERTED))
    for line in (
        "read otherwise: closed_on, 1 value(s), as '31.12.2020' -> '2020-12-31' in row 1",
        "read otherwise: labour_minutes, 2 value(s), as '1,5' -> '90.0' in row 1",
        "read otherwise: reason, 2 value(s), as 'WTY' -> 'failure' in row 1",
        "read otherwise: cost, 1 value(s), as '1.234,50' -> '1234.50' in row 1",
        "found in texts: component in 1 of 2 'Done', as 'pump' in row 1",
        "formed: record_id from '{Year}-{No}'",
        "the same in every row: action 'replaced'",
        "dropped: Owner",
    ):
        assert line in found
    assert "Ann" not in found
    assert "ASK" not in found


def test_describe_tells_the_same_of_a_feed_already_judged(tmp_path):
    found = map_feed(feed(tmp_path, vehicles="vehicle_id,series\na,S\n"))
    told = describe(found, {n: judge(n, t, loaded_on=LOADED_ON, settings={}) for n, t in found.tables.items()})
    assert told == dry_run(tmp_path, None, loaded_on=LOADED_ON)


def test_an_export_without_a_mapping_gets_a_proposal_that_can_be_loaded(tmp_path):
    (tmp_path / "jobs.csv").write_bytes(GERMAN.encode("cp1252"))
    proposal = propose_mapping(tmp_path / "jobs.csv", LOADED_ON)
    for line in (
        'encoding = "cp1252"  # guess: the file is not UTF-8',
        'delimiter = ";"  # guess: most frequent in the heading',
        'date_order = "dmy"  # guess: 1 of 2 have a first number above 12',
        "two_digit_years = 1927  # guess: the hundred years up to now",
        'decimal = ","  # guess: by the numbers',
        'thousands = "."  # guess: by the numbers',
        'units = { odometer = "mi" }  # guess: by the heading Mileage (miles)',
        'drop = ["Customer name"]  # guess: may name a person',
        '# "serv" = "..."',
    ):
        assert line in proposal
    table = map_feed(tmp_path / "jobs.csv", parse_mapping_text(proposal, "proposal")).tables["repairs"]
    assert table.select("record_id", "closed_on", "odometer", "cost").rows() == [
        ("1", "1999-04-23", "112345", "1234.50"),
        ("2", "2001-06-05", "113345", "34.50"),
    ]


def test_the_proposal_is_written_beside_the_feed_once(tmp_path):
    (tmp_path / "jobs.csv").write_bytes(GERMAN.encode("cp1252"))
    found = lines_of(tmp_path / "jobs.csv")
    target = tmp_path / "jobs.mapping.toml"
    assert f"written to {target}" in found
    assert "Read with this mapping:" in found
    assert parse_mapping(target).source == "jobs"
    target.write_text("mine")
    assert "is there already and was left as it is" in lines_of(tmp_path / "jobs.csv")
    assert target.read_text() == "mine"


def test_an_ambiguous_date_order_is_said_to_be_one(tmp_path):
    proposal = propose_mapping(feed(tmp_path, jobs="Job,Car,Date\n1,a,1/2/2020\n"), LOADED_ON)
    assert 'date_order = "dmy"  # guess: no number above 12 tells day from month: CHECK, it may be mdy' in proposal


def test_what_was_not_recognised_is_named_and_not_guessed(tmp_path):
    found = lines_of(feed(tmp_path, jobs="Job,Wagen,Date\n1,a,2020-01-02\n"))
    assert (
        "# vehicle_id (the car, by a word of your own) was not recognised" in found or "vehicle_id (the car)" in found
    )
    assert "# not read: Wagen" in found
    assert "It is not complete yet: nothing fills vehicle_id" in found


def test_a_readings_file_is_told_from_a_jobs_file(tmp_path):
    proposal = propose_mapping(feed(tmp_path, odo="bus_id,month,odometer\n7,1974-12,100\n"), LOADED_ON)
    assert "[[readings]]" in proposal
    assert "nothing in the file says so: CHECK" in proposal


def test_a_feed_without_any_table_gets_no_proposal(tmp_path):
    (tmp_path / "readme.txt").write_text("hello")
    with pytest.raises(FeedError, match="no CSV, XLSX or Parquet"):
        dry_run(tmp_path, None, loaded_on=LOADED_ON)


def test_lines_of_cars_that_nobody_in_the_feed_declares_are_told(tmp_path):
    vehicles = "vehicle_id,series\ncar1,S1\ncar2,all\n"
    repairs = "record_id,vehicle_id,closed_on\nJ1,car1,2024-01-01\nJ2,car2,2024-01-02\nJ3,car9,2024-01-03\n"
    readings = "vehicle_id,read_on,odometer\ncar1,2024-01-01,5\ncar9,2024-01-02,5\ncar9,2024-01-03,6\n"
    sales = "part_no,sold_on,quantity\nP1,2024-01-01,1\n"
    found = lines_of(feed(tmp_path, vehicles=vehicles, repairs=repairs, readings=readings, sales=sales))
    assert "repairs: 2 line(s) name 2 car(s) not in this feed's vehicles (car2, car9); they are loaded only if" in found
    assert "readings: 2 line(s) name 1 car(s) not in this feed's vehicles (car9)" in found
    assert "sales: 1 line(s) name" not in found


def test_a_feed_whose_cars_are_all_declared_is_told_nothing_about_cars(tmp_path):
    repairs = "record_id,vehicle_id,closed_on\nJ1,car1,2024-01-01\n"
    found = lines_of(feed(tmp_path, vehicles="vehicle_id,series\ncar1,S1\n", repairs=repairs))
    assert "not in this feed's vehicles" not in found


def test_rows_with_one_key_that_say_something_else_are_told_and_repetitions_are_not(tmp_path):
    repairs = "record_id,line_no,vehicle_id,closed_on\n" + "".join(
        f"J1,{line},car1,2024-01-0{day}\n" for line, day in ((1, 1), (1, 1), (1, 2), (2, 1), (1, 3))
    )
    vehicles = "vehicle_id,series\ncar1,S1\ncar1,S2\ncar1,S1\n"
    components = "component,system,series\nhose,cooling,\nhose,cooling,S1\nhose,brakes,\n"
    found = lines_of(feed(tmp_path, vehicles=vehicles, repairs=repairs, components=components))
    assert (
        "repairs: 2 line(s) have the same record_id, line_no as an earlier one and say something else "
        "(first in repairs.csv, row 3); loading sends them to quarantine"
    ) in found
    assert "vehicles: 1 line(s) have the same vehicle_id as an earlier one" in found
    assert "components: 1 line(s) have the same component, position, series, serial_from" in found


def test_no_cars_are_proposed_out_of_the_jobs_where_a_file_names_the_cars(tmp_path):
    feed(tmp_path, repairs="Job,Car,Date\n1,a,2020-01-02\n", vehicles="Car,Model,Built\na,S1,1962\n")
    proposal = propose_mapping(tmp_path, LOADED_ON)
    assert proposal.count("[[vehicles]]") == 1
    assert "known from their jobs only" not in proposal
    tables = map_feed(tmp_path, parse_mapping_text(proposal, "proposal")).tables
    assert tables["vehicles"].select("vehicle_id", "series", "built_on").rows() == [("a", "S1", "1962")]


def test_a_file_named_after_a_native_table_is_proposed_as_that_table(tmp_path):
    proposal = propose_mapping(feed(tmp_path, vehicles="Car,Model,Closed\na,S1,no\n"), LOADED_ON)
    assert "[[vehicles]]" in proposal
    assert "[[repairs]]" not in proposal


TITLED = [
    ["Job list; 2019 to 2020"],
    [],
    ["Job No", "Date", "Car", "Part 1", "Qty 1", "Part 2", "Qty 2", "Work done"],
    ["A1", "13.04.2019", "C-1", "WM-1", "1", "WM-2", "2", "replaced"],
    ["A2", "14.05.2019", "C-2", "WM-1", "1", "", "", "replaced"],
    ["A3", "15.06.2020", "C-1", "", "", "", "", "inspected"],
]


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_a_title_above_the_headings_and_numbered_columns_are_seen(tmp_path, suffix):
    file = tmp_path / f"Jobs{suffix}"
    if suffix == ".csv":
        file.write_text("\n".join(";".join(cells) for cells in TITLED), encoding="utf-8")
    else:
        with xlsxwriter.Workbook(file) as book:
            sheet = book.add_worksheet("Jobs")
            for place, cells in enumerate(TITLED):
                sheet.write_row(place, 0, [cell or None for cell in cells])
    proposed = propose_mapping(file, LOADED_ON)
    assert "heading_line = 3" in proposed
    assert "n = [1, 2]" in proposed
    repairs = map_feed(file, parse_mapping_text(proposed, "the proposal"))
    lines = repairs.tables["repairs"].select("record_id", "line_no", "part_no", "quantity").rows()
    assert lines == [("A1", "1", "WM-1", "1"), ("A1", "2", "WM-2", "2"), ("A2", "1", "WM-1", "1")]
    assert f"{repairs.tables['repairs']['file'][0]}: 1 whole row(s) of the file left out with them" in str(
        repairs.notes
    )


def test_a_number_in_one_heading_only_is_no_numbered_column(tmp_path):
    feed(tmp_path, jobs="Job No,Date,Car,Bay 4,Line 01,Line 02\nA1,2019-04-03,C-1,x,y,z\n")
    assert "{n}" not in propose_mapping(tmp_path / "jobs.csv", LOADED_ON)


@pytest.mark.parametrize(
    ("heading", "unit"),
    [("Mileage (mi)", "mi"), ("Miles", "mi"), ("Mileage km", "km"), ("Mileage", "km"), ("Odometer reading", "km")],
)
def test_mileage_alone_is_said_of_km_too(tmp_path, heading, unit):
    feed(tmp_path, jobs=f"Job No,Date,Car,{heading}\nA1,2019-04-03,C-1,61240\n")
    proposed = propose_mapping(tmp_path / "jobs.csv", LOADED_ON)
    (line,) = (line for line in proposed.splitlines() if line.startswith("units ="))
    assert f'odometer = "{unit}"' in line
    assert ("CHECK" in line) == (heading in {"Mileage", "Odometer reading"})


def test_lines_of_an_address_number_no_lines(tmp_path):
    feed(tmp_path, jobs="Job No,Date,Car,Line 1,Line 2,Tel 1\nA1,2019-04-03,C-1,High Street,Smallville,017\n")
    proposed = propose_mapping(tmp_path / "jobs.csv", LOADED_ON)
    assert "line_no" not in proposed
    assert 'drop = ["Tel 1"]' in proposed


def test_known_headings_are_found_beside_a_figure_and_below_a_full_title(tmp_path):
    title = "Printed by Smith,Workshop East,Page one,Jobs closed,all of them\n"
    feed(tmp_path, jobs=f"{title}Job No,Date,Car,Action,1\nA1,3 May 2020,C-1,replaced,x\n")
    assert "heading_line = 2 " in propose_mapping(tmp_path / "jobs.csv", LOADED_ON)


def test_a_file_without_headings_is_called_that(tmp_path):
    feed(tmp_path, jobs="J1,C-1,2020-01-05,61240\nJ2,C-2,2020-01-06,61241\n")
    assert "its first line looks like a record" in propose_mapping(tmp_path / "jobs.csv", LOADED_ON)


def test_a_line_that_cannot_be_split_waits_among_the_jobs_where_one_file_tells_jobs_and_cars(tmp_path):
    feed(tmp_path, jobs='Job No,Date,Car,Note\nA1,2019-04-03,C-1,good\nA2,2019-04-03,C-1,"left open\n')
    proposed = propose_mapping(tmp_path / "jobs.csv", LOADED_ON)
    tables = map_feed(tmp_path / "jobs.csv", parse_mapping_text(proposed, "the proposal")).tables
    assert tables["repairs"]["unread"].count() == 1
    assert "unread" not in tables["vehicles"].columns
