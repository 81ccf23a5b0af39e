"""Undo a load, withdraw a line, build the ledger again."""

import pytest

from analytics.errors import LedgerError
from analytics.ledger import doctor, ledger_hash, load, loads, open_ledger, rebuild, undo, withdraw
from analytics.ledger.connect import ledger_path
from analytics.ledger.journal import journal_path, read_journal
from tests.ledger.feeds import CAR, LOADED_ON, ask, feed, job, put, tell


def costs(data):
    return ask(data, "select record_id, line_no, cost from repairs order by all")


def test_undoing_the_last_load_brings_the_older_revision_back(tmp_path):
    put(tmp_path, repairs=[job(cost="10")])
    before = tell(tmp_path, ledger_hash)
    put(tmp_path, repairs=[job(cost="12"), job("18")])
    assert undo(tmp_path, 2) == {}
    assert costs(tmp_path) == [("17", 1, 10.0)]
    assert tell(tmp_path, ledger_hash) == before
    put(tmp_path, repairs=[job(cost="13")])
    assert ask(tmp_path, "select max(revision) from repairs_revision where record_id = '17'") == [(3,)]


def test_undoing_an_earlier_load_is_as_if_it_had_never_been(tmp_path):
    put(tmp_path, repairs=[job("1"), job("2", cost="5")])
    again = [job("1"), job("2", cost="6")]
    load(tmp_path, feed(vehicles=[CAR], repairs=[*again, job("3", vehicle_id="B")]), loaded_on=LOADED_ON)
    assert undo(tmp_path, 1) == {2: 3}
    assert ask(tmp_path, "select count(*) from quarantine where status = 'open'") == [(1,)]
    assert costs(tmp_path) == [("1", 1, None), ("2", 1, 6.0)]


def test_undoing_the_load_that_brought_a_car_quarantines_its_later_lines(tmp_path):
    put(tmp_path, repairs=[job("1")])
    put(tmp_path, repairs=[job("1"), job("2")])
    assert undo(tmp_path, 1) == {2: 3}
    assert costs(tmp_path) == []
    assert ask(
        tmp_path,
        "select record, line from (select row_json ->> 'record_id' as record, load_id as line "
        "from quarantine where status = 'open') order by all",
    ) == [("1", 3), ("2", 3)]


def test_undo_of_a_mend_opens_the_row_again(tmp_path):
    put(tmp_path, repairs=[job("1", action="polished up")])
    put(tmp_path, repairs=[job("1", action="repaired")])
    assert ask(tmp_path, "select status from quarantine") == [("mended",)]
    undo(tmp_path, 2)
    assert ask(tmp_path, "select status from quarantine") == [("open",)]


def test_a_withdrawal_outlasts_the_undoing_of_an_earlier_load(tmp_path):
    put(tmp_path, repairs=[job("1")])
    put(tmp_path, vehicles=[CAR], repairs=[job("2"), job("3"), job("4", action="polished up")])
    withdraw(tmp_path, "2", reason="entered twice")
    withdraw(tmp_path, "4/1", reason="never done")
    put(tmp_path, repairs=[job("5")])
    assert undo(tmp_path, 1) == {2: 4, 3: 5}
    assert [record for record, _, _ in costs(tmp_path)] == ["3", "5"]
    assert ask(tmp_path, "select count(*) from quarantine where status = 'open'") == [(0,)]
    put(tmp_path, repairs=[job("2", cost="7")])
    assert costs(tmp_path)[0] == ("2", 1, 7.0)


@pytest.mark.parametrize("number", [2, 0, 9])
def test_only_a_load_that_counts_can_be_undone(tmp_path, number):
    put(tmp_path, repairs=[job("1")])
    put(tmp_path, repairs=[job("2")])
    undo(tmp_path, 2)
    with pytest.raises(LedgerError, match=f"no load {number} to undo"):
        undo(tmp_path, number)


@pytest.mark.parametrize(("name", "left"), [("17", 1), ("17/2", 2), ("18/1", 2)])
def test_an_order_or_a_line_is_withdrawn(tmp_path, name, left):
    put(tmp_path, repairs=[job(), job(line_no="2"), job("18")])
    assert withdraw(tmp_path, name, reason="never done") == 3 - left
    assert ask(tmp_path, "select count(*) from repairs") == [(left,)]


def test_a_withdrawn_line_stays_so_until_it_comes_with_other_words(tmp_path):
    put(tmp_path, source="shop", repairs=[job(cost="1")])
    put(tmp_path, source="shop", repairs=[job(cost="2")])
    withdraw(tmp_path, "shop:17", reason="never done")
    assert put(tmp_path, source="shop", repairs=[job(cost="2")]).already_known
    assert costs(tmp_path) == []
    # after a withdrawal the number is free for another job (rule 5)
    assert put(tmp_path, source="shop", repairs=[job(closed_on="2024-01-01", cost="2")]).count("revised") == 1
    assert costs(tmp_path) == [("17", 1, 2.0)]


def test_a_withdrawn_quarantined_line_is_no_visit_any_more(tmp_path):
    bad = [job("1", action="polished up")]
    put(tmp_path, repairs=bad)
    before = tell(tmp_path, ledger_hash)
    assert withdraw(tmp_path, "1/1", reason="never done") == 1
    assert tell(tmp_path, ledger_hash) != before
    assert ask(tmp_path, "select count(*) from seen") == [(0,)]
    assert put(tmp_path, vehicles=[CAR], repairs=bad).already_known


@pytest.mark.parametrize(("name", "reason"), [("99", "never done"), ("17", " ")])
def test_a_withdrawal_names_a_line_and_a_reason(tmp_path, name, reason):
    put(tmp_path, repairs=[job()])
    with pytest.raises(LedgerError):
        withdraw(tmp_path, name, reason=reason)
    assert len(costs(tmp_path)) == 1


def busy(data):
    put(data, source="shop", settings={"currency": "EUR"}, repairs=[job(), job("2", action="polished up"), job("3")])
    put(data, source="shop", repairs=[job(cost="5"), job("4", vehicle_id="B")], mapping_text='source = "shop"')
    undo(data, 1)
    withdraw(data, "shop:17", reason="never done")
    put(data, vehicles=[CAR], repairs=[job("5")])


def test_the_ledger_can_be_built_again_from_what_was_kept(tmp_path):
    busy(tmp_path)
    before, numbers = tell(tmp_path, ledger_hash), tell(tmp_path, loads)["load_id"].to_list()
    rows = ask(tmp_path, "select * exclude (ended_why) from quarantine order by quarantine_id")
    ledger_path(tmp_path).write_bytes(b"nothing of use")
    assert rebuild(tmp_path) == before == tell(tmp_path, ledger_hash)
    assert tell(tmp_path, loads)["load_id"].to_list() == numbers
    assert ask(tmp_path, "select * exclude (ended_why) from quarantine order by quarantine_id") == rows
    assert [finding for finding in doctor(tmp_path) if not finding.ok] == []
    assert (tmp_path / "ledger.before-rebuild.duckdb").read_bytes() == b"nothing of use"


def test_a_rebuild_without_a_whole_feed_leaves_the_ledger_as_it_is(tmp_path):
    busy(tmp_path)
    before = tell(tmp_path, ledger_hash)
    next((tmp_path / "feeds").glob("*/repairs.parquet")).unlink()
    with pytest.raises(LedgerError, match="kept feed"):
        rebuild(tmp_path)
    assert tell(tmp_path, ledger_hash) == before


def test_a_rebuild_without_a_journal_is_refused(tmp_path):
    with pytest.raises(LedgerError, match="no journal"):
        rebuild(tmp_path)


def test_the_journal_catches_up_and_forgets_a_torn_line(tmp_path):
    put(tmp_path, repairs=[job("1")])
    put(tmp_path, repairs=[job("2")])
    lines = journal_path(tmp_path).read_text(encoding="utf-8").splitlines(keepends=True)
    journal_path(tmp_path).write_text(lines[0] + lines[1][:20], encoding="utf-8")
    assert len(read_journal(tmp_path)) == 1
    put(tmp_path, repairs=[job("3")])
    assert [line["load_id"] for line in read_journal(tmp_path)] == [1, 2, 3]


def test_a_journal_that_was_changed_is_refused(tmp_path):
    put(tmp_path, repairs=[job("1")])
    journal_path(tmp_path).write_text("not JSON\n", encoding="utf-8")
    with pytest.raises(LedgerError, match="journal"):
        rebuild(tmp_path)


def test_a_failed_undo_changes_nothing(tmp_path):
    put(tmp_path, repairs=[job("1")])
    put(tmp_path, repairs=[job("2")])
    before = tell(tmp_path, ledger_hash)
    newest = tell(tmp_path, loads)["feed_hash"][-1]
    (tmp_path / "feeds" / newest / "repairs.parquet").write_bytes(b"")
    with pytest.raises(LedgerError, match="was changed"):
        undo(tmp_path, 1)
    with open_ledger(tmp_path, write=False) as connection:
        assert ledger_hash(connection) == before
