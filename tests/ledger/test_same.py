"""Names said to be one: applied on reading, taken back, refused where figures would become wrong."""

from datetime import date

import pytest

from analytics.errors import LedgerError
from analytics.ledger import (
    apart,
    backup,
    forget,
    ids_of,
    ledger_hash,
    open_ledger,
    rebuild,
    restore,
    same,
    same_names,
    undo,
)
from analytics.ledger.feeds import feeds_dir
from analytics.ledger.journal import read_journal
from analytics.ledger.names import unite_names
from tests.ledger.feeds import CAR, ask, job, put, tell

EVER = date(2026, 1, 1)


def read_in(data, sql, as_of=EVER):
    with open_ledger(data, write=False) as connection:
        unite_names(connection, as_of)
        return connection.sql(sql).fetchall()


@pytest.fixture
def data(tmp_path):
    put(
        tmp_path,
        vehicles=[
            CAR,
            {"vehicle_id": "B", "series": "first", "built_on": "1970"},
            {"vehicle_id": "C", "series": "second"},
        ],
        repairs=[job("1", component="Hoze"), job("2", component="hose"), job("3", component="hose", vehicle_id="B")],
        parts=[{"part_no": "P1", "component": "hose", "looks_like": "P2;P3"}, {"part_no": "P2", "component": "hose"}],
        stock=[{"part_no": "P0", "counted_on": "2020-01-01", "on_hand": "2"}],
    )
    return tmp_path


def components(data):
    return read_in(data, "select component, count(*) from repairs group by all order by all")


def test_a_name_is_read_as_another_in_all_its_spellings_and_taken_back(data):
    before = tell(data, ledger_hash)
    assert same(data, "component", "hoze", "Hose") == []
    assert components(data) == [("hose", 3)]
    assert ask(data, "select component, count(*) from repairs group by all order by all") == [("Hoze", 1), ("hose", 2)]
    assert tell(data, ledger_hash) != before
    assert apart(data, "component", "HOZE") == "Hose"
    assert components(data) == [("Hoze", 1), ("hose", 2)]
    assert tell(data, ledger_hash) == before


def test_a_new_name_that_nobody_wrote_is_allowed_and_told(data):
    told = same(data, "component", "hose", "flexible line")
    assert told == ["no record or table has the component 'flexible line' yet"]
    assert components(data) == [("Hoze", 1), ("flexible line", 2)]


def test_chains_circles_and_second_meanings_are_refused(data):
    same(data, "component", "Hoze", "hose")
    for old, new, says in (
        ("hoze", "pipe", "already read as 'hose'"),
        ("hose", "Hoze", "in a circle"),
        ("hose", "pipe", "cannot mean another one itself"),
        ("pipe", "hoze", "itself read as 'hose'"),
        ("Hose.", "hose", "are read as one component already"),
        ("", "hose", "a name is empty"),
    ):
        with pytest.raises(LedgerError, match=says) as refused:
            same(data, "component", old, new)
        assert refused.value.next_step
    assert tell(data, same_names).rows() == [("component", "Hoze", "hose")]
    with pytest.raises(LedgerError, match="is not read as another"):
        apart(data, "component", "hose")


def test_what_looks_alike_is_no_one_part(data):
    for old, new in (("P1", "P2"), ("P3", "P1")):
        with pytest.raises(LedgerError, match="look alike and do not interchange"):
            same(data, "part", old, new)
    same(data, "part", "P0", "P1")
    assert read_in(data, "select part_no from stock") == [("P1",)]
    same(data, "part", "P3", "P9")
    assert read_in(data, "select looks_like from parts where part_no = 'P1'") == [("P2; P9",)]


def test_a_part_said_to_be_another_keeps_one_row_per_place(data):
    put(data, parts=[{"part_no": "P7", "component": "hose", "supplier": "other"}])
    same(data, "part", "P7", "P1")
    assert read_in(data, "select part_no, supplier from parts order by all") == [("P1", None), ("P2", None)]


def test_a_component_keeps_its_mark_of_safety(data):
    with pytest.raises(LedgerError, match="critical for safety by its name"):
        same(data, "component", "brake hose", "hose")
    same(data, "component", "hose", "brake hose")
    apart(data, "component", "hose")
    put(data, components=[{"component": "hose", "system": "Brakes", "safety_critical": "yes"}])
    same(data, "component", "brake hose", "hose")


def test_reserved_positions_are_no_names_and_other_sides_are_told(data):
    with pytest.raises(LedgerError, match="reserved"):
        same(data, "position", "everywhere", "all")
    assert any("differ in a side" in told for told in same(data, "position", "nearside", "left"))


def test_two_ids_of_one_car_have_one_history(data):
    assert same(data, "vehicle", "B", "A") == []
    assert read_in(data, "select vehicle_id, count(*) from repairs group by all") == [("A", 3)]
    cars = read_in(data, "select vehicle_id, built_on, inferred from vehicles order by all")
    assert cars == [("A", date(1970, 7, 1), "built_on"), ("C", None, None)]
    assert ids_of(data, "B") == ["B", "A"]
    assert ids_of(data, "A") == ["A", "B"]
    apart(data, "vehicle", "B")
    assert ids_of(data, "B") == ["B"]


def test_cars_of_two_series_and_unknown_cars_are_refused(data):
    with pytest.raises(LedgerError, match="is of series second"):
        same(data, "vehicle", "C", "A")
    with pytest.raises(LedgerError, match="no car 'X' is in the ledger"):
        same(data, "vehicle", "X", "A")


def test_a_rebuild_and_a_backup_keep_what_was_said(data, tmp_path_factory):
    same(data, "component", "Hoze", "hose")
    same(data, "vehicle", "B", "A")
    same(data, "part", "P0", "P1")
    apart(data, "part", "P0")
    said, before = tell(data, same_names).rows(), tell(data, ledger_hash)
    assert said == [("component", "Hoze", "hose"), ("vehicle", "B", "A")]
    assert rebuild(data) == before
    assert tell(data, same_names).rows() == said
    other = tmp_path_factory.mktemp("other")
    backup(data, other / "saved.zip")
    restore(other / "data", other / "saved.zip")
    assert tell(other / "data", same_names).rows() == said


def test_undoing_a_load_leaves_what_was_said(data):
    same(data, "component", "Hoze", "hose")
    put(data, repairs=[job("4", component="HOZE")])
    undo(data, 2)
    assert components(data) == [("hose", 3)]
    undo(data, 1)
    assert tell(data, same_names).rows() == [("component", "Hoze", "hose")]


def test_forgetting_a_car_takes_all_its_ids_and_what_was_said_of_them(data):
    same(data, "component", "Hoze", "hose")
    same(data, "vehicle", "B", "A")
    forget(data, "B")
    assert ask(data, "select vehicle_id from vehicles") == [("C",)]
    assert tell(data, same_names).rows() == [("component", "Hoze", "hose")]
    assert [step["did"] for step in read_journal(data)] == ["load", "same"]


def test_a_hidden_car_is_named_by_its_plain_id_which_is_written_nowhere(tmp_path):
    cars = [{"vehicle_id": name, "series": "first"} for name in ("plate-one", "plate-two")]
    put(tmp_path, vehicles=cars, repairs=[job(vehicle_id="plate-one")], settings={"vehicle_id": "keyed hash"})
    same(tmp_path, "vehicle", "plate-one", "plate-two")
    assert len(read_in(tmp_path, "from vehicles")) == 1
    assert "plate" not in (feeds_dir(tmp_path) / "journal.jsonl").read_text(encoding="utf-8")
    assert set(ids_of(tmp_path, "plate-two")) >= set(ask(tmp_path, "select distinct vehicle_id from vehicles")[0])
    apart(tmp_path, "vehicle", "plate-one")
    assert len(read_in(tmp_path, "from vehicles")) == 2
