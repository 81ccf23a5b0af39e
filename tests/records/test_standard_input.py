"""A feed that comes through standard input: CSV, workbook or Parquet, native or mapped, and only in memory."""

import hashlib
import io
from datetime import date

import polars as pl
import pytest
import xlsxwriter

from analytics.cli import main
from analytics.errors import FeedError
from analytics.records import dry_run, map_feed, parse_mapping, read_standard_input
from analytics.records.mapping_file import parse_mapping_text
from tests.records.feeds import LOADED_ON, mapping, rows

REPAIRS = b"record_id;vehicle_id;closed_on;component;location;part_no\nJ1;car1;2024-05-02;hose;bay;P1\n"
THEIRS = b"Job,Car,Day\nJ1,car1,2024-05-02\n"
BLOCK = """
[[repairs]]
file = "jobs.csv"
columns = { record_id = "Job", vehicle_id = "Car", closed_on = "Day" }
"""


def piped(content):
    return read_standard_input(io.BytesIO(content))


def workbook():
    made = io.BytesIO()
    with xlsxwriter.Workbook(made, {"default_date_format": "yyyy-mm-dd"}) as book:
        sheet = book.add_worksheet("repairs")
        sheet.write_row(0, 0, ["record_id", "vehicle_id", "closed_on"])
        sheet.write_row(1, 0, ["J1", "car1", date(2024, 5, 2)])
    return made.getvalue()


def parquet():
    made = io.BytesIO()
    pl.DataFrame({"record_id": ["J1"], "vehicle_id": ["car1"], "closed_on": [date(2024, 5, 2)]}).write_parquet(made)
    return made.getvalue()


@pytest.mark.parametrize(
    ("content", "name"),
    [
        (REPAIRS, "stdin.csv"),
        (workbook(), "stdin.xlsx, sheet repairs"),
        (parquet(), "stdin.parquet"),
        (b"\xef\xbb\xbf" + REPAIRS, "stdin.csv"),
    ],
)
def test_a_native_table_is_known_by_its_headings_and_kept_as_a_file_named_stdin(content, name):
    found = map_feed(piped(content))
    assert rows(found.tables["repairs"], "record_id", "closed_on", "file") == [("J1", "2024-05-02", name)]
    assert found.files == ((name.split(",")[0], hashlib.sha256(content).hexdigest()),)


@pytest.mark.parametrize(
    ("headings", "table"),
    [
        ("vehicle_id,series,built_on", "vehicles"),
        ("vehicle_id,read_on,odometer", "readings"),
        ("part_no,sold_on,quantity,vehicle_id", "sales"),
        ("part_no,component,position,series", "parts"),
        ("Component,System,Position", "components"),
        ("vehicle_id,component,fitted_from,part_no", "fitted"),
    ],
)
def test_every_kind_of_table_is_known_by_its_headings(headings, table):
    values = ",".join("1" * len(headings.split(",")))
    assert [*map_feed(piped(f"{headings}\n{values}\n".encode())).tables] == [table]


def test_headings_of_no_table_are_refused():
    with pytest.raises(FeedError, match="nothing in the feed is named after a native table"):
        map_feed(piped(b"a,b\n1,2\n"))


@pytest.mark.parametrize("file", ["jobs.csv", "stdin.csv", "stdin", "*.csv"])
def test_a_mapping_of_one_file_reads_what_came_in(file):
    found = map_feed(piped(THEIRS), parse_mapping_text('source = "shop"' + BLOCK.replace("jobs.csv", file), "m"))
    assert rows(found.tables["repairs"], "record_id", "file") == [("J1", "stdin.csv")]


def test_a_mapping_of_several_files_must_say_which_one_came_in():
    two = 'source = "shop"' + BLOCK + BLOCK.replace("jobs.csv", "old.csv")
    with pytest.raises(FeedError, match="the mapping names 2 files, and one came through standard input"):
        map_feed(piped(THEIRS), parse_mapping_text(two, "m"))
    found = map_feed(piped(THEIRS), parse_mapping_text(two.replace("old.csv", "stdin"), "m"))
    assert found.tables["repairs"].height == 1


def test_a_dry_run_reads_it_with_and_without_a_mapping(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert dry_run(piped(REPAIRS), None, loaded_on=LOADED_ON)[0] == "repairs: 1 row(s) from stdin.csv (1)"
    said = dry_run(piped(THEIRS), mapping(tmp_path, BLOCK), loaded_on=LOADED_ON)
    assert said[0] == "repairs: 1 row(s) from stdin.csv (1)"
    dry_run(piped(b"Job;Vehicle;Job date\nJ1;car1;2024-05-02\n"), None, loaded_on=LOADED_ON)
    assert 'file = "stdin.csv"' in (tmp_path / "stdin.mapping.toml").read_text()
    parse_mapping(tmp_path / "stdin.mapping.toml")


def test_nothing_piped_in_is_told_and_a_terminal_is_not_waited_for():
    class Terminal(io.BytesIO):
        def isatty(self):
            return True

    for stream in (io.BytesIO(), Terminal(REPAIRS)):
        with pytest.raises(FeedError, match="nothing came through standard input"):
            read_standard_input(stream)


def test_load_with_a_hyphen_reads_standard_input_dry_and_for_good(tmp_path, monkeypatch, capsys):
    def load(content, *words):
        monkeypatch.setattr("sys.stdin", io.TextIOWrapper(io.BytesIO(content)))
        return main(["load", "-", *words, "--data", str(tmp_path)])

    assert load(b"vehicle_id,series\ncar1,S1\n") == 0
    assert load(REPAIRS, "--dry-run") == 0
    assert "new 1, unchanged 0" in capsys.readouterr().out
    assert load(REPAIRS) == 0
    assert "1 row read: 1 new" in capsys.readouterr().out
    assert load(REPAIRS) == 0
    assert "already known" in capsys.readouterr().out
    assert load(b"") == 1
    assert "nothing came through standard input" in capsys.readouterr().err
