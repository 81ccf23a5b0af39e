"""Placeholders that a mapping names: read as empty and counted; where a value must stand, quarantined by name."""

import pytest

from analytics.errors import FeedError
from analytics.records import judge, map_feed, parse_mapping
from analytics.records.mapping_file import parse_mapping_text
from tests.records.feeds import LOADED_ON, feed, mapped, mapping, rows

JOBS = """
Car,Day,Odo,Left
c1,02.05.2024,0,01.01.1900
UNKNOWN,03.05.2024,"999999",31.12.9999
c2,01.01.1900,61240,
c3,04.05.2024,000000,05.05.2024
"""
BLOCK = """
[[repairs]]
file = "jobs.csv"
date_order = "dmy"
columns = { vehicle_id = "Car", closed_on = "Day", odometer = "Odo", opened_on = "Left" }
"""
NAMED = (
    'placeholders = { odometer = ["0", "999999"], closed_on = ["1900-01-01"], vehicle_id = ["unknown"], '
    'opened_on = ["01.01.1900", "9999-12-31"] }\n'
)


def ruled(found, table="repairs"):
    return judge(table, found.tables[table], loaded_on=LOADED_ON, settings=found.settings)


@pytest.mark.parametrize("text", [BLOCK + NAMED, f"[settings]\n{NAMED}{BLOCK}"], ids=["in the block", "in settings"])
def test_they_are_empty_however_they_are_written_and_counted(tmp_path, text):
    found = mapped(feed(tmp_path, jobs=JOBS), text)
    assert rows(found.tables["repairs"], "odometer", "opened_on") == [
        (None, None),
        (None, None),
        ("61240", None),
        (None, "2024-05-05"),
    ]
    for said in ("odometer: 3", "closed_on: 1", "vehicle_id: 1", "opened_on: 2"):
        assert f"jobs.csv: {said} placeholder(s) taken for empty, as the mapping says" in found.notes


def test_a_car_or_a_day_that_is_one_costs_the_row_and_is_named(tmp_path):
    found = ruled(mapped(feed(tmp_path, jobs=JOBS), BLOCK + NAMED))
    assert rows(found.quarantined, "column", "value") == [
        ("vehicle_id", "(placeholder) UNKNOWN"),
        ("closed_on", "(placeholder) 01.01.1900"),
    ]
    assert found.quarantined["says"][0] == (
        "vehicle_id (the car): '(placeholder) UNKNOWN' stands for no value, as the mapping says: write the true one"
    )


def test_a_block_of_its_own_mind_is_asked_first(tmp_path):
    text = '[settings]\nplaceholders = { odometer = ["0"] }\n' + BLOCK + 'placeholders = { odometer = ["61240"] }\n'
    found = mapped(feed(tmp_path, jobs=JOBS), text)
    assert found.tables["repairs"]["odometer"].to_list() == ["0", "999999", None, "000000"]


def test_a_native_feed_names_them_under_settings(tmp_path):
    feed(
        tmp_path,
        vehicles="vehicle_id,series,built_on\nc1,S1,1900-01-01\n0,S1,1961\n",
        readings="vehicle_id,read_on,odometer\nc1,2024-05-02,99999\n0,2024-05-02,5\n",
    )
    text = '[settings]\nplaceholders = { built_on = ["1900-01-01"], odometer = ["99999"], vehicle_id = ["0"] }\n'
    found = map_feed(tmp_path, parse_mapping(mapping(tmp_path, f'source = ""\n{text}')))
    assert rows(ruled(found, "vehicles").accepted, "vehicle_id", "built_on") == [("c1", None)]
    assert rows(ruled(found, "readings").quarantined, "column", "value") == [
        ("odometer", "(placeholder) 99999"),
        ("vehicle_id", "(placeholder) 0"),
    ]


def test_a_row_may_be_skipped_where_only_a_placeholder_stands(tmp_path):
    text = BLOCK + NAMED + 'skip_empty = ["closed_on"]\n'
    found = mapped(feed(tmp_path, jobs=JOBS), text)
    assert found.tables["repairs"]["vehicle_id"].to_list() == ["c1", "(placeholder) UNKNOWN", "c3"]


def test_an_unknown_column_is_refused():
    with pytest.raises(FeedError, match="unknown column of the feed: odo"):
        parse_mapping_text('[settings]\nplaceholders = { odo = ["0"] }', "m")
