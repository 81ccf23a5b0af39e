"""The .sql files: their headers say what the database returns; the schema is built from the declared tables."""

import re

import pytest

from analytics.ledger import open_ledger, queries
from analytics.ledger.connect import CONFIG
from analytics.ledger.schema import TABLES, VIEWS, quoted, statement, statements
from analytics.records.feed import FEED, REPAIRS
from analytics.records.table import Column, Table
from tests.ledger.feeds import job, put

ANSWERS = sorted(path.stem for path in queries.FOLDER.glob("*.sql") if path.stem != "move_withdrawal")
VALUES = {
    "as_of": "2020-01-01",
    "blank": "{}",
    "current": "repairs_current",
    "defaults": "{}",
    "ended_at": "2020-01-01",
    "feed_hash": "",
    "first_again": 1,
    "has_car": True,
    "is_order": True,
    "key": ["record_id"],
    "latest": "repairs_latest",
    "least": 12.0,
    "load_id": 1,
    "name": "17",
    "numbered": False,
    "others": 3,
    "paths": ["$.record_id"],
    "renumber_days": 60,
    "revisions": "repairs_revision",
    "sides": ["left"],
    "source": "",
    "table": "repairs",
    "times": 20.0,
}


def header(name):
    """Return the header's fields: lines of comment, by field."""
    fields: dict[str, list[str]] = {}
    field = ""
    for line in queries.query(name).splitlines():
        if not line.startswith("--"):
            break
        named = re.match(r"-- ([A-Z][a-z ]+?)\s*: (.*)", line)
        field = named[1] if named else field
        fields.setdefault(field, []).append(named[2] if named else line.removeprefix("--").strip(" :"))
    return fields


def body(name):
    return re.sub(r"--[^\n]*|'[^']*'", "", queries.query(name))


def parameters(name):
    return sorted(set(re.findall(r"\$(\w+)", body(name))))


@pytest.fixture(scope="module")
def loaded(tmp_path_factory):
    """A ledger with the temporary tables that a load and a comparison of names leave behind."""
    from analytics.ledger.alike import keep_names
    from analytics.ledger.taking import Delivery, kept_as, take
    from tests.ledger.feeds import CAR, LOADED_ON, feed

    data = tmp_path_factory.mktemp("data")
    put(data, repairs=[job(odometer="x"), job("18", action="polished up")])
    with open_ledger(data, write=True) as connection:
        connection.begin()
        mapped = feed(vehicles=[CAR], repairs=[job(cost="5"), job("18"), job("19", odometer="x")])
        take(connection, Delivery(mapped, kept_as("hash"), "", LOADED_ON, complete=False), lambda _: None)
        keep_names(connection)
        yield connection
        connection.rollback()


@pytest.mark.parametrize("name", ANSWERS)
def test_the_header_names_the_columns_and_types_the_database_returns(loaded, name):
    values = {key: VALUES[key] for key in parameters(name)}
    if name == "refused":
        values["key"] = "record_id"
    relation = loaded.sql(queries.query(name), params=values or None)
    returned = [f"{c} {t}" for c, t in zip(relation.columns, map(str, relation.types), strict=True)]
    assert [" ".join(line.split(",")[0].split()) for line in header(name)["Returns"]] == returned


@pytest.mark.parametrize("name", ANSWERS)
def test_the_header_names_the_parameters(name):
    assert sorted(line.split()[0] for line in header(name).get("Parameters", [])) == parameters(name)


@pytest.mark.parametrize("name", ANSWERS)
def test_the_header_names_the_tables_read_and_the_order(name):
    own = set(re.findall(r"(\w+) as \(\n", body(name)))
    read = set(re.findall(r"\b(?:from|join) (\w+)(?![\w(])", body(name).replace("distinct from", ""))) - own
    told = set(", ".join(header(name)["Reads"]).replace("and by name", "by name").split(", "))
    named = {words for words in told if "by name" not in words and "table" not in words}
    assert named == read - {"query_table"}
    order = " ".join(header(name)["Order"])
    assert re.sub(r'"|\b\w\.', "", body(name).split("order by")[-1]).split() == order.split()


def test_every_file_of_the_schema_is_used():
    folder = queries.FOLDER / "schema"
    assert {path.stem for path in folder.glob("*.sql")} == {*TABLES, *VIEWS, "repairs", "repairs_current"}
    whole = "\n".join(statements())
    for path in [*folder.glob("*.sql"), *(queries.FOLDER / "per_table").glob("*.sql")]:
        assert path.read_text(encoding="utf-8").startswith(("-- One row per : ", "select", "insert"))
    for name in FEED:
        assert f'create table "{name}_revision"' in whole


def test_names_of_tables_and_columns_are_quoted():
    odd = Table('odd"one', "a test", ("a b",), (Column("a b", "text", "a test"), Column("order", "whole", "a test")))
    sql = statement("revision", odd)
    assert 'create table "odd""one_revision" (' in sql
    assert '"a b" varchar,\n    "order" bigint,' in sql
    assert quoted("a") == '"a"'


def test_the_schema_has_the_declared_columns(loaded):
    told = loaded.sql("select column_name, data_type from duckdb_columns() where table_name = 'repairs_revision'")
    assert told.fetchall()[: len(REPAIRS.columns)] == [(c.name, c.sql_type) for c in REPAIRS.columns]


def test_no_download_can_be_started(loaded):
    assert set(CONFIG.values()) == {"false"}
    for setting in CONFIG:
        assert loaded.sql(f"select current_setting('{setting}')").fetchall() == [(False,)]
