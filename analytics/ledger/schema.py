"""The ledger's tables and views, built once from the declared feed tables and the files in ``sql``."""

from __future__ import annotations

from string import Template
from typing import TYPE_CHECKING

from analytics.ledger.queries import query
from analytics.records.feed import FEED

if TYPE_CHECKING:
    import duckdb

    from analytics.records.table import Table

SCHEMA_VERSION = 8
TABLES = (
    "about",
    "load",
    "load_file",
    "setting",
    "undone_load",
    "withdrawal",
    "quarantine_row",
    "quarantine_end",
    "set_aside",
    "same_name",
)
VIEWS = ("quarantine", "seen", "same_now")


def quoted(name: str) -> str:
    """Return a name as an SQL identifier.

    Examples
    --------
    >>> quoted('odd"name')
    '"odd""name"'
    """
    return '"' + name.replace('"', '""') + '"'


def statement(file: str, table: Table, rows: str = "current") -> str:
    """Return ``sql/per_table/<file>.sql`` for one feed table, its names quoted.

    Parameters
    ----------
    file
        File name without suffix.
    table
        Declared feed table.
    rows
        Where the file asks for it: ``current`` or ``revision``, the view or table of the feed table to select from.
    """
    columns = ",\n    ".join(f"{quoted(column.name)} {column.sql_type.lower()}" for column in table.columns)
    return Template(query(f"per_table/{file}")).safe_substitute(
        feed=quoted(table.name),
        revision=quoted(f"{table.name}_revision"),
        latest=quoted(f"{table.name}_latest"),
        current=quoted(f"{table.name}_current"),
        rows=quoted(f"{table.name}_{rows}"),
        columns=columns,
        text="'" + table.name.replace("'", "''") + "'",
    )


def statements() -> list[str]:
    """Return every statement that builds an empty ledger, in order."""
    static = [query(f"schema/{name}") for name in TABLES]
    per_table = [sql for table in FEED.values() for sql in _table_statements(table)]
    unions = [
        f"create view {rows}_row as\n" + "\nunion all\n".join(statement("row", table, rows) for table in FEED.values())
        for rows in ("current", "revision")
    ]
    return [*static, *per_table, *unions, *(query(f"schema/{name}") for name in VIEWS)]


def _table_statements(table: Table) -> list[str]:
    built = [statement("revision", table), statement("latest", table)]
    if table.name == "repairs":
        return [*built, query("schema/repairs_current"), query("schema/repairs")]
    return [*built, statement("current", table), statement("feed", table)]


def build(connection: duckdb.DuckDBPyConnection) -> None:
    """Build an empty ledger in one transaction."""
    connection.begin()
    for sql in statements():
        connection.execute(sql)
    connection.execute("insert into about values ($version)", {"version": SCHEMA_VERSION})
    connection.commit()
