"""What a careful reader must refuse or set aside is exactly what the truth says was made dirty."""

from collections import Counter
from datetime import date

import polars as pl
import pytest

from analytics import records
from analytics.ledger import load, open_ledger, quarantine_rows
from sample_data.dirt import PLANTED, REFUSED
from tests.sample_data.feed import table, truth

LOADED_ON = date(2026, 11, 25)
JUDGED_BY_THEMSELVES = [kind for kind in REFUSED if kind != "unknown car"]
"""The other refusals need the whole ledger: which cars there are, and which numbers."""


@pytest.fixture(scope="module")
def mapped(demo_feed):
    return records.map_feed(demo_feed)


def rows_of(demo_feed, *kinds):
    """Row numbers of the lines made dirty in these ways."""
    keys = {(d.record_id, str(d.line_no)) for d in truth(demo_feed).dirty if d.kind in kinds}
    rows = table(demo_feed, "repairs").iter_rows(named=True)
    return {row["row_no"] for row in rows if (row["record_id"], row["line_no"]) in keys}


def test_only_repairs_have_rows_that_are_refused(mapped):
    for name, text in mapped.tables.items():
        judged = records.judge(name, text, loaded_on=LOADED_ON, settings=mapped.settings)
        assert (judged.quarantined.height > 0) == (name == "repairs")
        assert (judged.set_aside.height > 0) == (name == "repairs")


def test_exactly_the_lines_made_dirty_are_refused(demo_feed, mapped):
    judged = records.judge("repairs", mapped.tables["repairs"], loaded_on=LOADED_ON, settings=mapped.settings)
    assert set(judged.quarantined["row_no"]) == rows_of(demo_feed, *JUDGED_BY_THEMSELVES)
    assert judged.quarantined.height == sum(truth(demo_feed).quarantined[kind] for kind in JUDGED_BY_THEMSELVES)


def test_exactly_the_values_made_dirty_are_set_aside(demo_feed, mapped):
    judged = records.judge("repairs", mapped.tables["repairs"], loaded_on=LOADED_ON, settings=mapped.settings)
    assert Counter(judged.set_aside["column"]) == truth(demo_feed).set_aside
    assert judged.set_aside.height == truth(demo_feed).expected_set_aside


def test_half_known_days_of_building_are_filled_in_and_marked(demo_feed, mapped):
    judged = records.judge("vehicles", mapped.tables["vehicles"], loaded_on=LOADED_ON, settings=mapped.settings)
    marked = judged.accepted.filter(pl.col("inferred").str.contains("built_on").fill_null(value=False))
    told = truth(demo_feed).inferred
    assert marked.height == told["built_on year"] + told["built_on month"]
    assert judged.accepted["built_on"].null_count() == told["built_on empty"]


def test_rule_05_the_ledger_refuses_the_numbers_that_start_again_and_the_unknown_cars(demo_feed, mapped, tmp_path):
    load(tmp_path, mapped, loaded_on=LOADED_ON)
    with open_ledger(tmp_path, write=False) as connection:
        refused = quarantine_rows(connection)
    told = truth(demo_feed)
    assert refused.height == told.expected_quarantined == sum(told.quarantined.values())
    counts = Counter(refused["column"])
    assert counts["record_id"] == told.quarantined["number used twice"] == 8
    assert counts["vehicle_id"] == told.quarantined["unknown car"] == 5
    later = table(demo_feed, "repairs").filter(pl.col("row_no").is_in(refused["row_no"].to_list()))
    twice = later.filter(pl.col("record_id").str.contains("^[0-9]{4}$"))
    assert set(twice["closed_on"].str.slice(0, 4)) <= {"2016", "2017"}
    assert twice.height == 8


def test_every_line_is_dirty_in_one_way_at_most_and_planted_components_stay_clean(demo_feed):
    told = truth(demo_feed)
    lines = {(row["record_id"], row["line_no"]): row for row in table(demo_feed, "repairs").iter_rows(named=True)}
    keys = [(d.record_id, str(d.line_no)) for d in told.dirty if d.kind != "number used twice"]
    assert len(keys) == len(set(keys)) == len([d for d in told.dirty if d.column != "record_id"])
    planted = {law.component for law in told.laws if law.code in PLANTED}
    for dirty in told.dirty:
        line = lines[dirty.record_id, str(dirty.line_no)]
        assert line[dirty.column] == dirty.written
        assert line["component"] not in planted


def test_the_figure_nought_is_written_as_often_as_told(demo_feed):
    told = truth(demo_feed).planted["odometers"]["zero figures"]
    dirty = [d for d in truth(demo_feed).dirty if d.kind == "odometer 0"]
    assert len(dirty) == told == 6
