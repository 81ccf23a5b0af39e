"""Run the package's .sql files: one select each, parameters bound by name."""

from __future__ import annotations

import re
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    import duckdb
    import polars as pl

VIEWS = ("repair",)
"""Selects that add so little to a table that a second table would cost more than reading it anew."""

_COMMENT = re.compile(r"--[^\n]*")
_PARAMETER = re.compile(r"\$([a-z_]+)")


@cache
def sql_text(name: str) -> str:
    """Return the text of ``sql/<name>.sql``.

    Raises
    ------
    FileNotFoundError
        If the package has no such file.
    """
    return files("analytics.spells").joinpath("sql", f"{name}.sql").read_text(encoding="utf-8")


def parameters_of(text: str) -> tuple[str, ...]:
    """Return the names of the parameters that a select uses, in order of first use.

    Examples
    --------
    >>> parameters_of("select * from visit where day <= $as_of -- $not_this")
    ('as_of',)
    """
    return tuple(dict.fromkeys(_PARAMETER.findall(_COMMENT.sub("", text))))


def _bound(text: str, values: Mapping[str, object]) -> dict[str, object]:
    # the database refuses a parameter that the text does not use
    return {name: values[name] for name in parameters_of(text)}


def create_table(connection: duckdb.DuckDBPyConnection, name: str, values: Mapping[str, object]) -> None:
    """Create (or replace) the temporary table, or view, `name` from the select of the same name.

    Parameters
    ----------
    connection
        An open ledger; read-only is enough, temporary tables live outside the file.
    name
        Name of the file without ``.sql``, and of the table.
    values
        Values by parameter name; those the select does not use are left unbound.

    Raises
    ------
    FileNotFoundError
        If the package has no such file.
    KeyError
        If a parameter of the select has no value.
    """
    text = sql_text(name)
    kind = "view" if name in VIEWS else "table"
    connection.execute(f"create or replace temp {kind} {name} as\n{text}", _bound(text, values))


def drop_tables(connection: duckdb.DuckDBPyConnection, names: Iterable[str]) -> None:
    """Drop temporary tables that nothing reads any more: what they hold is as large as the records.

    Parameters
    ----------
    connection
        A connection on which they stand.
    names
        Names of the tables.
    """
    for name in names:
        connection.execute(f"drop table if exists temp.main.{name}")


def hand_in(connection: duckdb.DuckDBPyConnection, name: str, rows: pl.DataFrame) -> None:
    """Create (or replace) the temporary table `name` from a frame.

    Parameters
    ----------
    connection
        An open ledger; read-only is enough.
    name
        Name of the table.
    rows
        Its rows.
    """
    connection.register("rows_in", rows)
    connection.execute(f"create or replace temp table {name} as from rows_in")
    connection.unregister("rows_in")


def query(connection: duckdb.DuckDBPyConnection, name: str, values: Mapping[str, object]) -> pl.DataFrame:
    """Return the rows of the select ``sql/<name>.sql``.

    Parameters
    ----------
    connection
        An open ledger on which the tables the select reads exist.
    name
        Name of the file without ``.sql``.
    values
        Values by parameter name; those the select does not use are left unbound.

    Raises
    ------
    FileNotFoundError
        If the package has no such file.
    KeyError
        If a parameter of the select has no value.
    """
    text = sql_text(name)
    frame: pl.DataFrame = connection.sql(text, params=_bound(text, values)).pl()
    return frame
