"""The .sql files of the package: their headers say what the database returns; the runner binds by name."""

import re
from datetime import date
from pathlib import Path

import pytest

from analytics.parameters import Parameters
from analytics.safety import PATTERN
from analytics.spells import complaints, exposure, history
from analytics.spells.complaints import read_complaints
from analytics.spells.exposure import build_exposure
from analytics.spells.exposure import exposure as found_exposure
from analytics.spells.history import build_history
from analytics.spells.run_sql import create_table, parameters_of, query, sql_text
from tests.fleet import ledger_of

TABLES = (
    *(*history.TABLES_BEFORE_POSITIONS, *history.TABLES_AFTER_POSITIONS),
    *(*exposure.TABLES, *exposure.TABLES_OF_AGES, *complaints.TABLES),
)
NAMES = (*TABLES, *exposure.READ_ONCE, *complaints.READ_ONCE, "unit_steps", "unit_fit")
VALUES = {"as_of": date(2020, 1, 1), "safety_pattern": PATTERN, **Parameters().as_dict()}


def header(name):
    """Return the header's fields: lines of comment, by field."""
    fields: dict[str, list[str]] = {}
    field = ""
    for line in sql_text(name).splitlines():
        if not line.startswith("--"):
            break
        named = re.match(r"-- ([A-Z][a-z ]+?)\s*: (.*)", line)
        field = named[1] if named else field
        fields.setdefault(field, []).append(named[2] if named else line.removeprefix("--").strip(" :"))
    return fields


@pytest.fixture(scope="module")
def empty():
    connection = ledger_of()
    build_history(connection, date(2020, 1, 1), Parameters())
    found_exposure(connection, date(2020, 1, 1), Parameters())
    read_complaints(connection)
    return connection


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_columns_and_types_the_database_returns(empty, name):
    relation = empty.sql(sql_text(name), params={p: VALUES[p] for p in parameters_of(sql_text(name))})
    returned = [f"{c} {t}" for c, t in zip(relation.columns, map(str, relation.types), strict=True)]
    declared = [" ".join(line.split(",")[0].split()) for line in header(name)["Returns"]]
    assert declared == returned


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_parameters(name):
    declared = [line.split()[0] for line in header(name)["Parameters"] if line != "none"]
    assert sorted(declared) == sorted(parameters_of(sql_text(name)))


@pytest.mark.parametrize("name", NAMES)
def test_the_header_has_every_field(name):
    assert list(header(name)) == ["One row per", "Reads", "Parameters", "Returns", "Order"]


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_tables_read(name):
    body = re.sub(r"--[^\n]*|'[^']*'|distinct from", "", sql_text(name))
    own = set(re.findall(r"(\w+) (?:\([\w, ]+\) )?as \(\n", body))
    read = set(re.findall(r"\b(?:from|join) (\w+)", body)) - own
    assert sorted(", ".join(header(name)["Reads"]).split(", ")) == sorted(read)


def test_an_empty_ledger_gives_empty_tables(empty):
    for name in (*TABLES, "unit_answer", "silent_end", "stretch_fate", "fault_event"):
        assert empty.sql(f"select count(*) from {name}").fetchall() == [(0,)], name


def test_an_empty_ledger_gives_empty_frames():
    found = build_exposure(ledger_of(), VALUES["as_of"], Parameters())
    for name in ("spell", "unit_now", "record", "vehicle", "reading", "fault", "watch", "gap", "left_out"):
        assert getattr(found, name).is_empty(), name


def test_every_file_belongs_to_a_stage():
    files = {path.stem for path in (Path(history.__file__).parent / "sql").glob("*.sql")}
    assert files == set(NAMES)


def test_a_parameter_without_a_value_is_refused():
    with pytest.raises(KeyError, match="as_of"):
        query(ledger_of(), "order_line", {})


def test_a_file_that_does_not_exist_is_refused():
    with pytest.raises(FileNotFoundError):
        create_table(ledger_of(), "no_such_result", {})
