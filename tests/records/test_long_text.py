"""A long text, read part by part, gives the rows it gives when read at once."""

import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st

from analytics.errors import FeedError
from analytics.records import long_text, map_feed, parts, reading
from analytics.records.csv_text import LONGEST_TEXT, decode, sniff_delimiter, split_rows
from analytics.records.long_text import split_long
from analytics.records.mapping_file import parse_mapping_text

SIGNS = st.text(alphabet=' ab,"\n\r;é\ufeff', max_size=80)
QUOTED = st.lists(
    st.tuples(st.text(alphabet="ab é", max_size=5), st.text(alphabet='ab",\n é', max_size=9)), max_size=12
)


def at_once(content, encoding="utf-8", escape="", heading_line=1):
    text = decode(content, encoding, "jobs.csv")
    return split_rows(text, "jobs.csv", delimiter=sniff_delimiter(text), escape=escape, heading_line=heading_line)


def in_parts(path, content, size, encoding="utf-8", escape="", heading_line=1):
    path.write_bytes(content)
    with pytest.MonkeyPatch.context() as patched:
        patched.setattr(long_text, "PART_BYTES", size)
        return [*split_long(path, encoding, "", escape, heading_line)]


def same(path, content, size, **options):
    whole = at_once(content, **options)
    found = in_parts(path, content, size, **options)
    assert pl.concat([each.good for each in found]).rows() == whole.good.rows()
    assert pl.concat([each.broken for each in found]).rows() == whole.broken.rows()
    assert {each.heading for each in found} == {whole.heading}
    return found


@given(SIGNS, st.integers(1, 30))
def test_any_text_is_split_as_at_once(tmp_path_factory, text, size):
    path = tmp_path_factory.getbasetemp() / "jobs.csv"
    # the heading is longer than no part: a part is read on until its line ends
    same(path, f"x,y\n{text}".encode(), size)


@given(QUOTED, st.integers(1, 40), st.sampled_from(["utf-8", "utf-16", "cp1252"]))
def test_quoted_texts_over_several_lines_are_split_as_at_once(tmp_path_factory, table, size, encoding):
    path = tmp_path_factory.getbasetemp() / "jobs.csv"
    lines = [f'{x},"{y.replace(chr(34), chr(34) * 2)}"\r\n' for x, y in table]
    same(path, ("x,y\r\n" + "".join(lines)).encode(encoding), size, encoding=encoding)


def test_a_quote_that_nobody_closes_costs_the_rows_it_costs_when_read_at_once(tmp_path):
    lines = ["1,fine", '2,"open', *(f"{n},line" for n in range(2 * LONGEST_TEXT)), '9,end"', "10,fine", '11,"a ""b"""']
    found = same(tmp_path / "jobs.csv", ("x,y\n" + "\n".join(lines)).encode(), 500)
    assert len(found) > 4
    assert pl.concat([each.broken for each in found]).height >= 1


def test_titles_above_the_heading_and_escaped_quotes_are_read_as_at_once(tmp_path):
    content = b'Export of jobs; all\n\n\nx;y\n1;"a \\"b\\" c"\n2;d\n\n3;e\n'
    found = same(tmp_path / "jobs.csv", content, 64, escape="\\", heading_line=2)
    assert found[0].heading == ("x", "y")


@pytest.mark.parametrize("content", [b"x,y\n1,\xff\n" + b"2,3\n" * 9, b"x,y\n" + b"2,3\n" * 9 + b"4,\x005\n"])
def test_what_cannot_be_decoded_is_told_as_at_once(tmp_path, content):
    with pytest.raises(FeedError) as whole:
        at_once(content)
    with pytest.raises(FeedError) as told:
        in_parts(tmp_path / "jobs.csv", content, 8)
    assert str(told.value) == str(whole.value)


JOBS = "job,car,closed,cost,,text,hours\n" + "".join(
    f"{n // 3},c{n % 7},{n % 28 + 1:02d}.05.2021,{cost},,{text},{n % 4}\n"
    for n, (cost, text) in enumerate(
        [("1.250", "rear lamp"), ("12.5", "left lamp"), ("", "ring 01632 960123"), ("2.000", "short"), ("7", "plain")]
        * 40
    )
)
MAPPING = """source = "shop"
[[vehicles]]
file = "jobs.csv"
date_order = "dmy"
distinct = true
columns = { vehicle_id = "car" }
constants = { series = "S" }
[[repairs]]
file = "jobs.csv"
date_order = "dmy"
columns = { vehicle_id = "car", closed_on = "closed", cost = "cost", symptom = "text", record_id = "job" }
where = { hours = ["0", "1", "2"] }
"""
NUMBERED_BY_CONTENT = MAPPING.replace(', record_id = "job"', "")


@pytest.mark.parametrize("stated", [MAPPING, NUMBERED_BY_CONTENT])
@pytest.mark.parametrize("extra", ["", "bad,row\n", '9,"open,1,1\n'])
def test_a_long_file_is_mapped_as_at_once(tmp_path, monkeypatch, stated, extra):
    (tmp_path / "jobs.csv").write_text(JOBS + extra)
    mapping = parse_mapping_text(stated, "m")
    whole = map_feed(tmp_path, mapping)
    monkeypatch.setattr(reading, "PART_BYTES", 400)
    monkeypatch.setattr(long_text, "PART_BYTES", 400)
    monkeypatch.setattr(parts, "IN_MEMORY", 2000)
    found = map_feed(tmp_path, mapping)
    assert len([*found.tables.rows("repairs")]) > 3
    assert {name: frame.rows(named=True) for name, frame in found.tables.items()} == {
        name: frame.rows(named=True) for name, frame in whole.tables.items()
    }
    assert (found.notes, found.files, found.settings) == (whole.notes, whole.files, whole.settings)


def test_a_native_file_that_shows_its_decimals_late_is_read_as_at_once(tmp_path, monkeypatch):
    lines = [f"J{n},a,2021-05-0{n % 9 + 1},{'1.250' if n < 90 else '3.5'}\n" for n in range(100)]
    (tmp_path / "repairs.csv").write_text("Record ID,vehicle_id,closed_on,cost\n" + "".join(lines))
    whole = map_feed(tmp_path)
    monkeypatch.setattr(reading, "PART_BYTES", 200)
    monkeypatch.setattr(long_text, "PART_BYTES", 200)
    found = map_feed(tmp_path)
    assert found.tables["repairs"].rows() == whole.tables["repairs"].rows()
    assert found.tables["repairs"]["cost"][0] == "1.250"
    assert found.notes == whole.notes
