"""A quarantine sheet on which only some rows were mended: the others wait on, with their words and reasons."""

import pytest

from analytics.ledger import load, open_ledger, quarantine_rows, write_quarantine
from analytics.records import map_feed
from tests.ledger.feeds import LOADED_ON, tell

openpyxl = pytest.importorskip("openpyxl")

REPAIRS = """record_id,vehicle_id,closed_on,component,action,reason
1,A,2020-03-04,hose,clamp,replaced,failure
2,A,2020-03-04,hose,polished up,failure
"""
TOLD = ("quarantine_id", "file", "row_no", "column", "value", "says")


def test_a_row_that_could_not_be_split_keeps_its_text_while_its_row_on_the_sheet_is_empty(tmp_path):
    data, feed, sheet = tmp_path / "data", tmp_path / "feed", tmp_path / "mend.xlsx"
    feed.mkdir()
    (feed / "vehicles.csv").write_text("vehicle_id,series\nA,first\n", encoding="utf-8")
    (feed / "repairs.csv").write_text(REPAIRS, encoding="utf-8")
    load(data, map_feed(feed), loaded_on=LOADED_ON)
    before = tell(data, quarantine_rows).select(TOLD).rows()
    assert [row[3] for row in before] == ["action", "whole row"]

    with open_ledger(data, write=False) as connection:
        assert write_quarantine(connection, sheet) == 2
    book = openpyxl.load_workbook(sheet)
    action = [cell.value for cell in book["repairs"][1]].index("action")
    cells = [row[action] for row in book["repairs"].iter_rows(min_row=2)]
    next(cell for cell in cells if cell.value == "polished up").value = "repaired"
    book.save(sheet)

    feed_again = map_feed(sheet)
    report = load(data, feed_again, loaded_on=LOADED_ON)
    assert (report.mended, report.count("accepted"), report.count("quarantined")) == (1, 1, 0)
    assert tell(data, quarantine_rows).select(TOLD).rows() == before[1:]
    assert any("not filled in yet" in note for note in feed_again.notes)
