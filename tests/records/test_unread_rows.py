"""A row that cannot be split keeps its whole text, unless that text may hold what must not be kept."""

import json

import pytest

from analytics.records import judge, map_feed
from tests.records.feeds import LOADED_ON, feed, mapped

HEADING = "record_id,vehicle_id,closed_on"
JOBS = "Job,Car,Day,Owner\n1,a,2020-01-02,Ann\n2,b,Bob\n"
BLOCK = '[[repairs]]\nfile="jobs.csv"\ncolumns={ record_id="Job", vehicle_id="Car", closed_on="Day" }\n'


def refused(found):
    rows = judge("repairs", found.tables["repairs"], loaded_on=LOADED_ON, settings={}).quarantined
    return rows.select("row_no", "column", "value", "says", "row").rows()


def native(tmp_path, heading, *lines):
    return refused(map_feed(feed(tmp_path, repairs="\n".join((heading, *lines)) + "\n")))


@pytest.mark.parametrize(
    "text", ["J2,car1", "J2,car1,2024-01-02,leaks, badly", 'J2,"car1,2024-01-02', 'J2,"car" 1,2024-01-02', "Jürgen 2"]
)
def test_the_whole_text_of_a_row_that_cannot_be_split_goes_to_quarantine(tmp_path, text):
    ((row_no, column, value, says, row),) = native(tmp_path, HEADING, "J1,car1,2024-01-01", text, "J3,car1,2024-01-03")
    assert (row_no, column, value) == (2, "", text)
    assert json.loads(row) == {"unread text": text}
    assert "not kept" not in says


def test_beside_it_other_refused_rows_keep_their_columns(tmp_path):
    first, second = native(tmp_path, HEADING, "J1,car1,soon", "J2,car1")
    assert json.loads(first[4])["closed_on"] == "soon"
    assert "unread text" not in json.loads(first[4])
    assert second[2] == "J2,car1"


def test_where_a_native_file_has_a_column_that_is_not_read_the_text_is_not_kept(tmp_path):
    ((_, column, value, says, row),) = native(tmp_path, f"{HEADING},owner", "J1,car1,2024-01-01,Ann", "J2,car1,Bob")
    assert (column, value) == ("", "(text not kept)")
    assert says == (
        "3 fields where the heading has 4; its text is not kept, because not all columns of the file are: "
        "mend row 2 of repairs.csv in the file itself"
    )
    assert "Bob" not in row


@pytest.mark.parametrize(
    "more",
    [
        "",
        'drop=["Owner"]\n',
        'where={ Owner=["Ann"] }\n',
        'content_id=["Job", "Owner"]\n',
        'text.component={ from="Owner", rules=[["ann", "hose"]] }\n',
    ],
)
def test_a_mapping_that_drops_or_only_looks_at_a_column_keeps_no_text(tmp_path, more):
    feed(tmp_path, jobs=JOBS)
    found = mapped(tmp_path, BLOCK + more)
    assert "Bob" not in str(found.tables["repairs"].rows())
    assert refused(found)[-1][2] == "(text not kept)"


def test_a_mapping_that_reads_every_column_keeps_the_text(tmp_path):
    feed(tmp_path, jobs=JOBS.replace("Owner", "Remarks"))
    found = mapped(tmp_path, BLOCK.replace('"Day" }', '"Day", note="Remarks" }'))
    assert refused(found)[0][2] == "2,b,Bob"


def test_columns_read_by_another_block_of_the_same_file_count_as_read(tmp_path):
    feed(tmp_path, jobs=JOBS.replace("Owner", "Model"))
    cars = '[[vehicles]]\nfile="jobs.csv"\ndistinct=true\ncolumns={ vehicle_id="Car", series="Model" }\n'
    tables = mapped(tmp_path, BLOCK + cars).tables
    texts = [frame["unread text"].drop_nulls().to_list() for frame in tables.values() if "unread text" in frame.columns]
    assert texts == [["2,b,Bob"]]
