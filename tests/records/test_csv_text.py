"""Delimited text: what is split, what is called broken, and that a damaged row costs itself alone."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import FeedError
from analytics.records import careful_text, sound_text
from analytics.records.csv_text import LONGEST_TEXT, ROW, Rows, decode, sniff_delimiter, split_rows
from analytics.records.sound_text import split_sound


def split(text: str, **options) -> Rows:
    return split_rows(text, "jobs.csv", **options)


def says(found: Rows) -> dict[int, str]:
    return dict(found.broken.select(ROW, "says").rows())


@pytest.mark.parametrize(
    ("content", "encoding"),
    [
        ("Öl".encode(), ""),
        ("Öl".encode("utf-8-sig"), ""),
        ("Öl".encode("utf-16"), ""),
        ("Öl".encode("utf-16-be"), "utf-16-be"),
        ("Öl".encode("cp1252"), "cp1252"),
    ],
)
def test_text_is_decoded_as_marked_or_stated(content, encoding):
    assert decode(content, encoding, "jobs.csv") == "Öl"


def test_undecodable_text_is_refused_with_byte_line_and_remedy():
    with pytest.raises(FeedError) as refusal:
        decode("a\nÖl".encode("cp1252"), "", "jobs.csv")
    assert "byte 0xD6 on line 2" in refusal.value.what
    assert refusal.value.where == "jobs.csv"
    assert 'encoding = "cp1252"' in refusal.value.next_step


def test_a_stated_encoding_that_does_not_fit_is_refused():
    with pytest.raises(FeedError, match="byte 0x81"):
        decode(b"\x81", "cp1252", "jobs.csv")


def test_zero_bytes_are_no_table():
    with pytest.raises(FeedError, match="not a table"):
        decode(b"PK\x03\x04\x00\x00", "", "jobs.csv")


def test_a_lone_zero_byte_is_told_with_its_line():
    with pytest.raises(FeedError, match="line 3 holds a zero byte") as caught:
        decode(b"record_id,note\n1,fine\n2,a\x00b\n", "", "jobs.csv")
    assert "encoding" not in caught.value.next_step


def test_the_end_of_a_text_that_could_not_be_joined_opens_no_text_of_its_own():
    found = split('x,y,z\n1,2,3,"\n",5\n6,7,8\n9,",",10\n')
    assert found.good.rows() == [("6", "7", "8", 3), ("9", ",", "10", 4)]
    assert [*says(found)] == [1, 2]


def test_a_control_character_of_a_text_is_no_mark_of_ours():
    found = split('x,y\n"a, b",le\x01ft\n"c",\x02\n')
    assert found.good.rows() == [("a, b", "le\x01ft", 1), ("c", "\x02", 2)]


def test_the_end_of_a_text_that_could_not_be_joined_is_no_row_of_its_own():
    found = split('x,y,z\n1,"a\nb",2,3\n4,5,6\n')
    assert found.good.rows() == [("4", "5", "6", 3)]
    assert says(found)[2] == "may be the end of a text that an earlier row opens"


@pytest.mark.parametrize("text", ["", "\n\n", "   \n"])
def test_an_empty_text_is_refused(text):
    with pytest.raises(FeedError, match="empty"):
        split(text)


def test_two_columns_of_one_name_are_refused():
    with pytest.raises(FeedError, match="stand twice in the heading: car"):
        split("car,day,car\n1,2,3\n")


@pytest.mark.parametrize(("heading", "expected"), [("a;b;c,d", ";"), ("a\tb", "\t"), ("a,b", ","), ("a", ",")])
def test_the_delimiter_is_sniffed_from_the_heading(heading, expected):
    assert sniff_delimiter(f"\n{heading}\n1;1,5") == expected


def test_quotes_delimiters_and_line_ends_inside_a_quoted_text_are_kept():
    found = split('job,note\r\n1,"says ""no"", twice\r\nand goes"\r\n2,5" hose\r\n3, "spaced" \r\n')
    assert found.good.rows() == [("1", 'says "no", twice\nand goes', 1), ("2", '5" hose', 2), ("3", "spaced", 3)]
    assert found.broken.is_empty()


@pytest.mark.parametrize("ends", ["\n", "\r\n", "\r"])
def test_all_line_ends_are_read(ends):
    assert split(ends.join(["a,b", "1,2", ""])).good.rows() == [("1", "2", 1)]


def test_empty_fields_are_null_and_blank_rows_keep_their_number():
    found = split("a,b\n1,\n\n  \n2, x \n")
    assert found.good.rows() == [("1", None, 1), ("2", "x", 4)]


def test_too_few_and_too_many_fields_are_broken_with_the_counts():
    found = split("a,b,c\n1,2\n1,2,3\n1,2,3,4\n")
    assert says(found) == {1: "2 fields where the heading has 3", 3: "4 fields where the heading has 3"}
    assert found.good[ROW].to_list() == [2]


def test_an_open_quote_costs_its_own_row_only():
    found = split('a,b\n1,"open\n2,x\n3,"y"\n4,"z\n')
    assert says(found) == {1: "a quote is opened and not closed", 4: "a quote is opened and not closed"}
    assert found.good.rows() == [("2", "x", 2), ("3", "y", 3)]


def test_a_quoted_text_longer_than_the_limit_is_an_open_quote():
    text = 'a,b\n1,"' + "\n" * LONGEST_TEXT + '"\n2,x\n'
    assert says(split(text))[1] == "a quote is opened and not closed"


def test_text_after_a_closing_quote_is_broken_until_the_escape_is_stated():
    text = 'a,b\n1,"blown \\"o\\" ring"\n'
    assert "text follows a closing quote" in says(split(text))[1]
    assert split(text, escape="\\").good.rows() == [("1", 'blown "o" ring', 1)]


def test_title_lines_above_the_heading_are_skipped_where_stated():
    found = split('Jobs, "2024"\nprinted today,,\na,b\n1,2\n', heading_line=3)
    assert found.heading == ("a", "b")
    assert found.good.rows() == [("1", "2", 1)]


def test_a_column_without_a_name_gets_its_number():
    assert split("a,,c\n1,2,3\n").heading == ("a", "column 2", "c")


CELLS = st.text(alphabet='ab ,;"\n\r.', max_size=6)


@given(st.lists(st.lists(CELLS, min_size=3, max_size=3), min_size=1, max_size=8))
def test_what_the_standard_library_writes_is_read_back(table):
    buffer = io.StringIO()
    csv.writer(buffer, quoting=csv.QUOTE_ALL, lineterminator="\n").writerows([["x", "y", "z"], *table])
    found = split(buffer.getvalue())
    expected = [[cell.replace("\r\n", "\n").strip() or None for cell in row] for row in table]
    assert [list(row[:3]) for row in found.good.rows()] == expected
    assert found.broken.is_empty()


@given(st.lists(st.text(alphabet='ab,"', max_size=8), max_size=12))
def test_every_line_that_is_not_blank_is_good_broken_or_part_of_a_quoted_text(lines):
    found = split("\n".join(["x,y", *lines]) + "\n")
    numbers = found.good[ROW].to_list() + found.broken[ROW].to_list()
    assert len(set(numbers)) == len(numbers)
    if not any('"' in line for line in lines):
        assert sorted(numbers) == [n for n, line in enumerate(lines, start=1) if line]
    held = "".join("".join(cell or "" for cell in row[:2]) for row in found.good.rows())
    lost = sum(line.count("a") for line in lines) - held.count("a")
    assert lost >= 0
    if found.broken.is_empty():
        assert lost == 0


@pytest.mark.parametrize(
    "text",
    ["", "1,2\n\n3,4\n", "1,2\n3\n", "1,2,3\n4\n", "1\n2,3,4\n", '1,"2"\n', "\n1,2\n", "1,2\n,\n \n"],
)
def test_the_fast_way_leaves_every_doubt_to_the_careful_way(text):
    assert split_sound(text, ("x", "y"), ",") is None


PLAIN = st.lists(st.lists(st.text(alphabet="ab ;.\tä\r\u2028\ufeff#0", max_size=5), min_size=2, max_size=3), max_size=9)


@given(PLAIN)
@pytest.mark.parametrize("ending", ["\n", ""])
def test_the_fast_way_reads_what_the_careful_way_reads(ending, table):
    text = "x,y\n" + "\n".join(",".join(row) for row in table) + ending
    found = split(text)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(careful_text, "split_sound", lambda *_: None)
        careful = split(text)
    assert found.good.equals(careful.good)
    assert found.broken.equals(careful.broken)


def test_a_sound_text_is_read_in_blocks(monkeypatch):
    monkeypatch.setattr(sound_text, "BLOCK", 8)
    monkeypatch.setattr(careful_text, "_records", None)
    text = "x,y\n1,2\n" + "long words,far longer than a block\n3,4\n5,6"
    assert split(text).good.rows() == [
        ("1", "2", 1), ("long words", "far longer than a block", 2), ("3", "4", 3), ("5", "6", 4)
    ]  # fmt: skip
