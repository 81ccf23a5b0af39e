"""Loading: the same again changes nothing, every row is accounted for, sources and equal rows keep apart."""

import shutil
from datetime import date

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.errors import LedgerError
from analytics.ledger import ledger_hash, load, loads, open_ledger
from analytics.ledger import settings as settings_of
from analytics.ledger.connect import ledger_path
from tests.ledger.feeds import CAR, LOADED_ON, ask, feed, job, put, tell

MIXED = [job("1"), job("2", action="polished up"), job("3", vehicle_id="B"), job("4", odometer="x"), job("1")]


def test_the_same_feed_twice_changes_nothing(tmp_path):
    first = put(tmp_path, repairs=MIXED)
    digest, count = tell(tmp_path, ledger_hash), ask(tmp_path, "select count(*) from revision_row")
    again = put(tmp_path, vehicles=[CAR], repairs=MIXED)
    assert not first.already_known
    assert again.already_known
    assert again.load_id is None
    assert again.count("unchanged") == 4
    assert again.count("quarantined") == 2
    assert "nothing changed" in again.sentence()
    assert tell(tmp_path, ledger_hash) == digest
    assert ask(tmp_path, "select count(*) from revision_row") == count
    assert tell(tmp_path, loads).height == 1


def test_the_same_feed_on_a_later_day_may_take_more(tmp_path):
    job_of_tomorrow = [job(opened_on=None, closed_on="2026-12-01")]
    assert put(tmp_path, repairs=job_of_tomorrow).count("quarantined") == 1
    later = put(tmp_path, repairs=job_of_tomorrow, loaded_on=date(2026, 12, 2))
    assert (later.count("accepted"), later.mended) == (1, 1)


def test_another_feed_with_known_rows_is_a_load_without_news(tmp_path):
    put(tmp_path, repairs=[job("1"), job("2")])
    report = put(tmp_path, repairs=[job("2")])
    assert report.load_id == 2
    assert report.count("unchanged") == report.count("rows_read") == 1


def test_an_equal_row_in_one_feed_is_counted_as_repeated(tmp_path):
    report = put(tmp_path, repairs=[job(), job(), job()])
    assert (report.count("accepted"), report.count("unchanged"), report.count("repeated")) == (2, 2, 2)
    assert ask(tmp_path, "select count(*) from repairs") == [(1,)]


def test_two_rows_that_contradict_are_both_shown_and_the_later_one_waits(tmp_path):
    for _ in range(2):  # the second time the ledger holds the first row
        report = put(tmp_path, repairs=[job(finding="torn"), job(finding="worn")])
        assert report.count("quarantined") == 1
    rows = ask(tmp_path, "select row_no, column_name, says from quarantine")
    assert rows[0][:2] == (2, "record_id, line_no")
    assert "finding:torn" in rows[0][2]
    assert "finding:worn" in rows[0][2]
    assert len(rows) == 1
    assert ask(tmp_path, "select finding from repairs") == [("torn",)]


def test_a_key_is_shown_in_plain_words(tmp_path):
    put(tmp_path, vehicles=[CAR, {**CAR, "series": "second"}], repairs=[job(finding="torn"), job(finding="worn")])
    assert ask(tmp_path, "select value from quarantine order by all") == [("17, 1",), ("A",)]


def test_the_place_of_the_other_row_is_told(tmp_path):
    put(tmp_path, repairs=[job("16"), job(finding="torn")], file="old.csv")
    put(tmp_path, repairs=[job(vehicle_id=None), job(finding="worn"), job(finding="torn")], file="new.csv")
    ((says,),) = ask(tmp_path, "select says from quarantine where column_name = 'record_id, line_no'")
    assert "old.csv row 2, load 1" in says


def test_equal_sales_are_several_sales(tmp_path):
    sale = {"part_no": "P", "sold_on": "2020-01-01", "quantity": "1"}
    first = put(tmp_path, sales=[sale, sale])
    again = put(tmp_path, sales=[sale, {**sale, "quantity": "2"}, sale, sale])
    assert first.count("accepted") == 3
    assert (again.count("accepted"), again.count("unchanged")) == (2, 2)
    assert ask(tmp_path, "select quantity, count(*) from sales group by all order by all") == [(1.0, 3), (2.0, 1)]


def test_an_unchanged_export_does_not_take_back_what_another_source_corrected(tmp_path):
    built = {**CAR, "built_on": "1990-05-01"}
    put(tmp_path, source="shop", vehicles=[CAR])
    put(tmp_path, source="club", vehicles=[built])
    put(tmp_path, source="shop", vehicles=[CAR], repairs=[job()])
    assert ask(tmp_path, "select built_on from vehicles") == [(date(1990, 5, 1),)]
    put(tmp_path, source="shop", vehicles=[{**CAR, "built_on": "1990-06-01"}])
    assert ask(tmp_path, "select built_on from vehicles") == [(date(1990, 6, 1),)]


def test_empty_cells_are_part_of_a_key(tmp_path):
    rows = [{"component": "hose", "system": "cooling"}, {"component": "hose", "system": "cooling", "position": "left"}]
    assert put(tmp_path, components=rows).count("accepted") == 3
    assert put(tmp_path, components=rows[:1]).count("unchanged") == 1


def test_a_line_number_that_is_left_out_is_one(tmp_path):
    put(tmp_path, repairs=[job(line_no=None)])
    assert put(tmp_path, repairs=[job(cost="5")]).count("revised") == 1
    assert ask(tmp_path, "select line_id, inferred from repairs") == [("17/1", None)]


def test_several_rows_made_of_one_row_of_a_file_keep_apart(tmp_path):
    from tests.ledger.feeds import rows_of

    numbered = rows_of("repairs", [job("1"), job("2"), job("3", action="polished up")]).with_columns(row_no=1)
    report = put(tmp_path, repairs=numbered)
    assert report.files.row(0, named=True) == {
        "table": "repairs",
        "file": "repairs.csv",
        "rows_read": 3,
        "accepted": 2,
        "unchanged": 0,
        "repeated": 0,
        "revised": 0,
        "quarantined": 1,
        "set_aside": 0,
    }


def test_every_view_has_the_native_columns_and_what_was_inferred(tmp_path):
    from analytics.records.feed import FEED

    put(tmp_path, repairs=[job(part_no="P", odometer="12")])
    for name, table in FEED.items():
        extra = ["inferred", "source", "line_id"] if name == "repairs" else ["inferred"]
        columns = ask(tmp_path, f"select column_name, column_type from (describe {name})")
        assert [column for column, _ in columns] == [*table.names, *extra]
        assert [kind for _, kind in columns[: len(table.names)]] == [column.sql_type for column in table.columns]
    assert ask(tmp_path, "select odometer_unit, inferred from repairs") == [("km", "odometer_unit")]


def test_the_newest_load_that_states_a_setting_wins(tmp_path):
    put(tmp_path, source="shop", settings={"service_level": 0.8, "currency": "EUR"}, repairs=[job("1")])
    put(tmp_path, source="shop", settings={"service_level": 0.95}, repairs=[job("2")])
    put(tmp_path, repairs=[job("3")])
    assert tell(tmp_path, settings_of) == {"service_level": 0.95, "currency": "EUR"}


def test_nothing_is_loaded_when_rows_are_lost_on_the_way(tmp_path, monkeypatch):
    from dataclasses import replace

    from analytics.ledger import judging

    put(tmp_path, repairs=[job("1")])
    judge = judging.judge

    def forgetful(*args, **named):
        found = judge(*args, **named)
        return replace(found, accepted=found.accepted.head(1))

    monkeypatch.setattr(judging, "judge", forgetful)
    with pytest.raises(LedgerError, match="does not add up"):
        put(tmp_path, repairs=[job("2"), job("3")])
    assert ask(tmp_path, "select record_id from repairs") == [("1",)]


def test_progress_is_told_by_table(tmp_path):
    said = []
    load(tmp_path, feed(vehicles=[CAR], repairs=[job()]), loaded_on=LOADED_ON, progress=said.append)
    assert said == ["vehicles: 1 row", "repairs: 1 row"]


@pytest.mark.parametrize("write", [True, False])
def test_a_ledger_of_another_version_is_refused(tmp_path, write):
    put(tmp_path, repairs=[job()])
    with open_ledger(tmp_path, write=True) as connection:
        connection.execute("update about set schema_version = 99")
    with pytest.raises(LedgerError, match="schema 99"), open_ledger(tmp_path, write=write):
        pass


def test_a_reader_without_a_ledger_is_told_how_to_begin(tmp_path):
    with pytest.raises(LedgerError, match=r"wearledger load[\s\S]*wearledger demo"), open_ledger(tmp_path, write=False):
        pass
    assert not ledger_path(tmp_path).exists()


def test_a_file_that_is_no_ledger_is_refused(tmp_path):
    ledger_path(tmp_path).write_bytes(b"not a database" * 1000)
    with pytest.raises(LedgerError, match="cannot be read"), open_ledger(tmp_path, write=False):
        pass


ROWS = st.builds(
    job,
    record_id=st.sampled_from(["1", "2", None]),
    line_no=st.sampled_from(["1", "2", "x"]),
    vehicle_id=st.sampled_from(["A", "B", None]),
    opened_on=st.none(),
    closed_on=st.sampled_from(["2020-03-04", "2020-03-20", "2021-03-04", "2027-01-01", "31.02.2020"]),
    action=st.sampled_from(["replaced", "polished up"]),
    cost=st.sampled_from(["10", "ten", None]),
)


@settings(max_examples=6)
@given(feeds=st.lists(st.lists(ROWS, min_size=1, max_size=8), min_size=1, max_size=2))
def test_every_row_read_is_new_unchanged_revised_or_quarantined(feeds, tmp_path_factory):
    data = tmp_path_factory.mktemp("data")
    for rows in feeds:
        report = put(data, repairs=rows)
        counts = report.files.filter(table="repairs").row(0, named=True)
        assert counts["rows_read"] == len(rows)
        told = [counts[name] for name in ("accepted", "unchanged", "revised", "quarantined")]
        assert sum(told) == len(rows)
        assert put(data, repairs=rows).count("accepted") == 0
    assert ask(data, "select count(*), count(distinct line_id) from repairs")[0][0] <= 4
    stored = ask(data, "select sum(accepted + revised) from load_file")
    assert ask(data, "select count(*) from revision_row") == stored
    shutil.rmtree(data)
