"""Files and folders: workbooks, Parquet, CSV; refusals say what, where and what to do; nothing is half-read."""

import hashlib
from datetime import date, datetime
from pathlib import Path

import openpyxl
import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.records import map_feed, read_files
from analytics.records.reading import list_files
from tests.records.feeds import feed, rows

REPAIRS = "record_id,vehicle_id,closed_on\nJ1,car1,2024-05-02\n"


def workbook(path, **sheets):
    book = openpyxl.Workbook()
    book.remove(book.active)
    for name, lines in sheets.items():
        sheet = book.create_sheet(name)
        for line in lines:
            sheet.append(line)
    book.save(path)
    return path


def test_a_folder_gives_one_table_per_native_name_and_notes_the_rest(tmp_path):
    feed(tmp_path, repairs=REPAIRS, vehicles="vehicle_id,series\ncar1,S1\n", cars_2019="a,b\n1,2\n")
    (tmp_path / "readme.txt").write_text("hello")
    found = map_feed(tmp_path)
    assert list(found.tables) == ["repairs", "vehicles"]
    assert rows(found.tables["repairs"], "record_id", "file", "row_no") == [("J1", "repairs.csv", 1)]
    assert found.source == ""
    assert found.notes == (
        "readme.txt: not a CSV, XLSX or Parquet file, not read",
        "cars_2019.csv: cars_2019 names no native table, not read",
    )
    sha = hashlib.sha256((tmp_path / "repairs.csv").read_bytes()).hexdigest()
    assert dict(found.files)["repairs.csv"] == sha


def test_one_file_is_a_feed(tmp_path):
    feed(tmp_path, repairs=REPAIRS)
    assert map_feed(tmp_path / "repairs.csv").tables["repairs"].height == 1


@pytest.mark.parametrize("delimiter", [",", ";", "\t"])
def test_a_native_csv_may_use_comma_semicolon_or_tab(tmp_path, delimiter):
    feed(tmp_path, repairs=REPAIRS.replace(",", delimiter))
    assert map_feed(tmp_path).tables["repairs"].height == 1


def test_every_value_is_text_in_order_of_declaration(tmp_path):
    feed(tmp_path, repairs="closed_on,cost,vehicle_id,record_id\n2024-05-02,007,car1,1\n")
    table = map_feed(tmp_path).tables["repairs"]
    texts = ["record_id", "line_no", "vehicle_id", "closed_on", "cost", "file"]
    assert table.schema == {**dict.fromkeys(texts, pl.String), "row_no": pl.Int64}
    assert table["cost"][0] == "007"


def test_unknown_columns_are_reported_and_not_kept(tmp_path):
    feed(tmp_path, repairs="record_id,vehicle_id,closed_on,owner\nJ1,car1,2024-05-02,Smith\n")
    found = map_feed(tmp_path)
    assert "repairs.csv: columns not read: owner" in found.notes
    assert "Smith" not in str(found.tables["repairs"].rows())


def test_headings_may_differ_in_capitals_spaces_and_hyphens(tmp_path):
    feed(tmp_path, repairs="Record-ID,Vehicle ID,CLOSED_ON\nJ1,car1,2024-05-02\n")
    found = map_feed(tmp_path)
    assert rows(found.tables["repairs"], "record_id", "vehicle_id") == [("J1", "car1")]
    assert "repairs.csv: column Vehicle ID read as vehicle_id" in found.notes


def test_a_workbook_gives_a_table_per_sheet_with_dates_and_numbers_as_text(tmp_path):
    path = workbook(
        tmp_path / "book.xlsx",
        repairs=[
            ["record_id", "vehicle_id", "opened_on", "closed_on", "odometer", "came_for", "cost"],
            ["007", "car1", datetime(2024, 4, 30), date(2024, 5, 2), 120000, True, 12.5],  # noqa: DTZ001 - a sheet knows no time zones
            [8, "car2", "1.3.2024", 45414, 7.0, "yes", None],
        ],
        notes=[["a"], ["b"]],
        vehicles=[],
    )
    found = map_feed(path)
    assert list(found.tables) == ["repairs"]
    assert rows(found.tables["repairs"], "record_id", "opened_on", "closed_on", "odometer", "came_for", "cost") == [
        ("007", "2024-04-30", "2024-05-02", "120000", "true", "12.5"),
        ("8", "2024-03-01", "2024-05-02", "7", "yes", None),
    ]
    assert found.tables["repairs"]["file"][0] == "book.xlsx, sheet repairs"
    assert found.notes == ("book.xlsx, sheet notes: notes names no native table, not read",)


def test_blank_rows_of_a_workbook_are_counted_and_keep_their_number(tmp_path):
    path = workbook(tmp_path / "book.xlsx", vehicles=[[], ["vehicle_id", "series"], ["a", "S"], [], ["b", "S"]])
    found = map_feed(path)
    assert rows(found.tables["vehicles"], "vehicle_id", "row_no") == [("a", 1), ("b", 3)]
    assert "book.xlsx, sheet vehicles: 1 row(s) without any value left out" in found.notes


def test_the_example_rows_of_the_template_are_left_out(tmp_path):
    path = workbook(tmp_path / "book.xlsx", vehicles=[["vehicle_id", "series"], ["EXAMPLE 1", "S"], ["b", "S"]])
    found = map_feed(path)
    assert found.tables["vehicles"]["vehicle_id"].to_list() == ["b"]
    assert "book.xlsx, sheet vehicles: 1 example row(s) left out" in found.notes


def test_the_number_on_a_mended_quarantine_sheet_goes_along(tmp_path):
    heading = ["quarantine_id", "record_id", "vehicle_id", "closed_on", "what to do"]
    path = workbook(tmp_path / "mended.xlsx", repairs=[heading, [41, "J1", "car1", date(2024, 5, 2), "mend"]])
    assert map_feed(path).tables["repairs"]["quarantine_id"].to_list() == ["41"]


def test_parquet_is_read_as_text(tmp_path):
    pl.DataFrame(
        {
            "record_id": [1.0, None],
            "vehicle_id": ["car1", "car1"],
            "closed_on": [date(2024, 5, 2), None],
            "odometer": [12.5, float("nan")],
            "came_for": [True, None],
        }
    ).write_parquet(tmp_path / "repairs.parquet")
    table = map_feed(tmp_path).tables["repairs"]
    assert rows(table, "record_id", "closed_on", "odometer", "came_for") == [
        ("1", "2024-05-02", "12.5", "true"),
        (None, None, None, None),
    ]


def test_rows_that_cannot_be_split_stay_in_the_table_with_the_reason_and_without_their_text(tmp_path):
    feed(tmp_path, repairs="record_id,vehicle_id,closed_on\nJ1,car1,2024-05-02\nJ2,secret,\n,2024-05-03,,\n")
    table = map_feed(tmp_path).tables["repairs"]
    assert rows(table, "row_no", "unread") == [(1, None), (2, None), (3, "4 fields where the heading has 3")]
    assert table.filter(pl.col("row_no") == 3)["vehicle_id"][0] is None


def refusal(path) -> FeedError:
    with pytest.raises(FeedError) as caught:
        map_feed(path)
    assert caught.value.where
    assert caught.value.next_step
    return caught.value


def test_refuses_a_path_that_is_not_there(tmp_path):
    assert "there is no file or folder nowhere" in refusal(tmp_path / "nowhere").what


def test_refuses_what_is_neither_file_nor_folder():
    assert refusal(Path("/dev/null")).what == "/dev/null is neither a file of records nor a folder of them"


def test_refuses_an_empty_folder(tmp_path):
    assert "holds no files" in refusal(tmp_path).what


def test_refuses_a_feed_without_a_native_table(tmp_path):
    feed(tmp_path, jobs=REPAIRS)
    assert "vehicles, repairs" in refusal(tmp_path).next_step


@pytest.mark.parametrize("name", ["repairs.csv", "repairs.xlsx", "repairs.parquet"])
def test_refuses_an_empty_file(tmp_path, name):
    (tmp_path / name).touch()
    assert refusal(tmp_path).what == "the file is empty"


@pytest.mark.parametrize(("name", "says"), [("repairs.xlsx", "no"), ("repairs.parquet", "not Parquet")])
def test_refuses_a_file_that_is_not_what_its_name_says(tmp_path, name, says):
    (tmp_path / name).write_bytes(b"record_id,vehicle_id\n")
    assert says in refusal(tmp_path).what


def test_refuses_nested_parquet_columns(tmp_path):
    pl.DataFrame({"record_id": [["a"]]}).write_parquet(tmp_path / "repairs.parquet")
    assert "column record_id does not hold plain values" in refusal(tmp_path).what


def test_refuses_a_missing_required_column_and_reads_no_other_table(tmp_path):
    feed(tmp_path, vehicles="vehicle_id,series\ncar1,S1\n", repairs="record_id,closed_on\nJ1,2024-05-02\n")
    caught = refusal(tmp_path)
    assert caught.what == "repairs.csv has no column vehicle_id, which repairs must have"
    assert "record_id, closed_on" in caught.next_step


def test_refuses_a_link_that_leads_out_of_the_folder(tmp_path):
    outside = feed(tmp_path, repairs=REPAIRS) / "repairs.csv"
    inner = tmp_path / "feed"
    inner.mkdir()
    (inner / "repairs.csv").symlink_to(outside)
    assert "leads out of the feed's folder" in refusal(inner).what


def test_hidden_and_lock_files_are_no_part_of_a_feed(tmp_path):
    feed(tmp_path, repairs=REPAIRS)
    for name in (".repairs.csv", "~$book.xlsx"):
        (tmp_path / name).write_text("x")
    assert [file.name for file in list_files(tmp_path)] == ["repairs.csv"]


def test_read_files_returns_every_table_under_its_own_names(tmp_path):
    path = workbook(tmp_path / "book.xlsx", jobs=[["Nr", "Day"], [1, "x"]], cars=[["Car"], ["a"]])
    assert [(table.name, table.frame.columns[:-1]) for table in read_files([path])] == [
        ("jobs", ["Nr", "Day"]),
        ("cars", ["Car"]),
    ]
