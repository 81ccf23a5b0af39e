"""Delimited text as programs of many countries write it: encodings, delimiters, marks, damaged quotes."""

import codecs

import polars as pl
import pytest

from analytics.errors import FeedError
from analytics.ledger import load
from analytics.records import judge, map_feed, parse_mapping
from analytics.records.guesses import number_marks
from tests.records.feeds import LOADED_ON, mapping, rows

NATIVE = "vehicle_id;series\r\ncär1;Größe S’1\r\n"


@pytest.mark.parametrize(
    ("content", "stated"),
    [
        (NATIVE.encode(), ""),
        (NATIVE.encode("utf-8-sig"), ""),
        (NATIVE.encode("utf-8-sig"), "utf-8"),
        (NATIVE.encode("utf-16"), ""),
        (codecs.BOM_UTF16_BE + NATIVE.encode("utf-16-be"), ""),
        (NATIVE.encode("utf-16-le"), "utf-16-le"),
        (NATIVE.encode("utf-16-be"), "utf-16-be"),
        (NATIVE.encode("cp1252"), "cp1252"),
        (NATIVE.replace("’", "'").encode("latin-1"), "latin-1"),
    ],
)
def test_every_encoding_gives_the_same_letters_through_a_load(tmp_path, content, stated):
    (tmp_path / "cars.csv").write_bytes(content)
    text = f"""
        [[vehicles]]
        file = "cars.csv"
        delimiter = ";"
        encoding = "{stated}"
        columns = {{ vehicle_id = "vehicle_id", series = "series" }}
        """
    found = map_feed(tmp_path, parse_mapping(mapping(tmp_path, text)))
    assert rows(found.tables["vehicles"], "vehicle_id", "series") in (
        [("cär1", "Größe S’1")],
        [("cär1", "Größe S'1")],
    )
    assert load(tmp_path / "data", found, loaded_on=LOADED_ON).count("accepted") == 1


@pytest.mark.parametrize("code", ["utf-16-le", "utf-16-be"])
def test_utf_16_without_a_mark_is_refused_with_what_to_state(tmp_path, code):
    (tmp_path / "vehicles.csv").write_bytes("vehicle_id,series\na,S\n".encode(code))
    with pytest.raises(FeedError, match="zero bytes") as caught:
        map_feed(tmp_path)
    assert f'encoding = "{code}"' in caught.value.next_step


@pytest.mark.parametrize("delimiter", [",", ";", "\t", "|"])
def test_every_delimiter_is_seen_in_the_heading_of_a_native_file(tmp_path, delimiter):
    lines = [["vehicle_id", "series"], ["a", '"S, 1; x|y\tz"']]
    (tmp_path / "vehicles.csv").write_text("\n".join(delimiter.join(line) for line in lines) + "\n")
    assert map_feed(tmp_path).tables["vehicles"]["series"].to_list() == ["S, 1; x|y\tz"]


NUMBERS = [
    ("61.240,50", ",", ".", 61240.5),
    ("61 240,5", ",", " ", 61240.5),
    ("61\u00a0240,5", ",", " ", 61240.5),
    ("61\u202f240,5", ",", " ", 61240.5),
    ("61\u2009240", ",", " ", 61240),
    ("61'240.5", ".", "'", 61240.5),
    ("61\u2019240.5", ".", "'", 61240.5),
    ("61,240.50", ".", ",", 61240.5),
    ("1,234,567", ".", ",", 1234567),
    ("61240,5", ",", "", 61240.5),
    ("61240.5", ".", "", 61240.5),
    ("61 24", ",", " ", None),
    ("6,1240.5", ".", ",", None),
    ("61.240", ",", " ", None),
]


@pytest.mark.parametrize(("written", "decimal", "thousands", "number"), NUMBERS)
def test_every_pair_of_marks_is_read_as_stated_or_not_at_all(tmp_path, written, decimal, thousands, number):
    (tmp_path / "repairs.csv").write_text(
        f"record_id;vehicle_id;closed_on;odometer;note\nJ1;a;2024-05-02;{written};x\n", encoding="utf-8"
    )
    text = f'source = ""\n[settings]\ndecimal = "{decimal}"\nthousands = "{thousands}"\n'
    found = map_feed(tmp_path, parse_mapping(mapping(tmp_path, text)))
    ruled = judge("repairs", found.tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert ruled.accepted["odometer"].to_list() == [number]
    assert ruled.set_aside.height == (number is None)


@pytest.mark.parametrize("written", ["61\u202f240", "61\u00a0240", "61\u2019240", "61 240"])
def test_marks_that_nobody_stated_are_told(tmp_path, written):
    (tmp_path / "repairs.csv").write_text(
        f"record_id;vehicle_id;closed_on;odometer\nJ1;a;2024-05-02;{written}\n", encoding="utf-8"
    )
    ruled = judge("repairs", map_feed(tmp_path).tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert ruled.set_aside["says"][0].endswith("state decimal and thousands in the mapping")


@pytest.mark.parametrize(
    ("line", "note", "broken"),
    [
        ('J1,a,2024-05-02,"one\ntwo, three"', "one\ntwo, three", 0),
        ('J1,a,2024-05-02,"one ""two"" three"', 'one "two" three', 0),
        ('J1,a,2024-05-02,3" pipe', '3" pipe', 0),
        ('J1,a,2024-05-02,"never closed', None, 1),
        ("J1,a,2024-05-02,one,two", None, 1),
        ("J1,a", None, 1),
        ('J1,a,2024-05-02,"one" two', None, 1),
    ],
)
def test_a_stray_newline_stays_in_its_text_and_a_damaged_row_costs_only_itself(tmp_path, line, note, broken):
    (tmp_path / "repairs.csv").write_text(
        f"record_id,vehicle_id,closed_on,note\nJ0,a,2024-05-01,before\n{line}\nJ2,a,2024-05-03,behind\n"
    )
    found = map_feed(tmp_path)
    ruled = judge("repairs", found.tables["repairs"], loaded_on=LOADED_ON, settings={})
    assert ruled.accepted["note"].to_list() == (["before", "behind"] if broken else ["before", note, "behind"])
    assert ruled.quarantined.height == broken


@pytest.mark.parametrize(
    ("written", "marks"),
    [
        (["61 240", "7"], (".", " ")),
        (["61\u202f240", "34,5"], (",", " ")),
        (["61\u2019240.5"], (".", "'")),
        (["1 234 567"], (".", " ")),
        (["12", "7"], (".", "")),
    ],
)
def test_spaces_and_apostrophes_before_thousands_are_proposed(written, marks):
    assert number_marks(pl.Series(written))[:2] == marks
