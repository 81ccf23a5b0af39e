"""The .sql files of the exposure stage: their headers say what the database returns."""

import re
from datetime import date
from pathlib import Path

import pytest

from analytics.parameters import Parameters
from analytics.spells import exposure as stage
from analytics.spells.exposure import build_exposure
from analytics.spells.run_sql import parameters_of, sql_text
from tests.fleet import ledger_of
from tests.spells.test_history_sql import NAMES as NAMES_BEFORE
from tests.spells.test_history_sql import header

NAMES = stage.TABLES
VALUES = {"as_of": date(2020, 1, 1), **Parameters().as_dict()}


@pytest.fixture(scope="module")
def empty():
    connection = ledger_of()
    build_exposure(connection, VALUES["as_of"], Parameters())
    return connection


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_columns_and_types_the_database_returns(empty, name):
    relation = empty.sql(sql_text(name), params={p: VALUES[p] for p in parameters_of(sql_text(name))})
    returned = [f"{c} {t}" for c, t in zip(relation.columns, map(str, relation.types), strict=True)]
    declared = [" ".join(line.split(",")[0].split()) for line in header(name)["Returns"]]
    assert declared == returned


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_parameters_and_has_every_field(name):
    fields = header(name)
    assert list(fields) == ["One row per", "Reads", "Parameters", "Returns", "Order"]
    declared = [line.split()[0] for line in fields["Parameters"] if line != "none"]
    assert sorted(declared) == sorted(parameters_of(sql_text(name)))


@pytest.mark.parametrize("name", NAMES)
def test_the_header_names_the_tables_read(name):
    body = re.sub(r"--[^\n]*|'[^']*'|distinct from", "", sql_text(name))
    own = set(re.findall(r"(\w+) (?:\([\w, ]+\) )?as \(\n", body))
    read = set(re.findall(r"\b(?:from|join) (\w+)", body)) - own
    assert sorted(", ".join(header(name)["Reads"]).split(", ")) == sorted(read)


def test_an_empty_ledger_gives_empty_frames():
    found = build_exposure(ledger_of(), VALUES["as_of"], Parameters())
    for name in ("spell", "unit_now", "record", "vehicle", "reading", "fault", "watch", "gap", "left_out"):
        assert getattr(found, name).is_empty(), name


def test_every_file_belongs_to_a_stage():
    files = {path.stem for path in (Path(stage.__file__).parent / "sql").glob("*.sql")}
    later = {name for name in files if name.startswith("left_out")}
    assert files - later <= {*NAMES, *NAMES_BEFORE}
