"""Read one name where several spellings mean one: for analysis only, the kept records stay as written."""

from __future__ import annotations

from string import Template
from typing import TYPE_CHECKING

import polars as pl

from analytics.ledger.queries import answer, query
from analytics.ledger.schema import quoted
from analytics.records.naming import CODE, folded, position_key, read_code, sided

if TYPE_CHECKING:
    from datetime import date

    import duckdb

READ_BY_NAME = (
    *("vehicles", "repairs", "readings", "components", "locations"),
    *("parts", "stock", "sales", "fitted", "limits", "opinions", "seen"),
)
"""Views of the ledger that hold names."""

NUMBERED = ("part", "vehicle")
"""Kinds of name that are never read otherwise unless a person says so."""

KEY = ["kind", "within", "written"]
NAME_READ = {
    "kind": pl.String,
    "within": pl.String,
    "written": pl.String,
    "shown": pl.String,
    "stated": pl.Boolean,
    "lines": pl.Int64,
    "example": pl.String,
}


def unite_names(connection: duckdb.DuckDBPyConnection, as_of: date) -> None:
    """Let every later query on this connection read one name for all spellings of a thing.

    Parameters
    ----------
    connection
        An open ledger; read-only is enough.
    as_of
        Last day whose records say which spelling is shown.

    Notes
    -----
    The temporary table ``name_read`` then holds what is read otherwise than it is written: kind, within (the component
    as written, of positions), written, shown, stated (a person said so), lines, example. Where there is something,
    temporary views of the same names hide the ledger's own; the ledger itself is not changed.
    """
    read_as_written(connection)
    stated = answer(connection, "same_stated")
    written = answer(connection, "names_written", as_of=as_of)
    if not stated.filter(pl.col("kind").is_in(NUMBERED)).is_empty():
        written = pl.concat([written, answer(connection, "names_numbered", as_of=as_of)])
    read = name_read(written, stated)
    connection.register("name_in", read)
    connection.execute("create or replace temp table name_read as from name_in")
    connection.unregister("name_in")
    if read.is_empty():
        return
    ledger = quoted(str(connection.sql("select current_database()").fetchall()[0][0]))
    for view in ("field_read", *READ_BY_NAME):
        connection.execute(Template(query(f"reading/{view}")).substitute(ledger=ledger))


def read_as_written(connection: duckdb.DuckDBPyConnection) -> None:
    """Let every later query on this connection read the names as the records have them."""
    for view in READ_BY_NAME:
        connection.execute(f"drop view if exists temp.main.{view}")


def name_read(written: pl.DataFrame, stated: pl.DataFrame) -> pl.DataFrame:
    """Return the spellings that are read otherwise than written.

    Parameters
    ----------
    written
        As ``names_written.sql``.
    stated
        As ``same_stated.sql``: what a person said to be one.

    Returns
    -------
    DataFrame
        Columns `NAME_READ`, one row per spelling (and component, of positions) that is shown under another one.

    Notes
    -----
    Shown is the spelling that a table of components, parts or places declares, else the one with most lines; of
    several the plain one in lower case, then the one first written, then the first in order of text: never the one
    first loaded, so that the same records give the same names in whatever order they came.
    """
    names = written.with_columns(key=name_key(pl.col("kind"), pl.col("written")))
    said = stated.select(
        "kind",
        "new_name",
        key=name_key(pl.col("kind"), pl.col("old_name")),
        means=name_key(pl.col("kind"), pl.col("new_name")),
    )
    said = said.unique(["kind", "key"], keep="first", maintain_order=True)
    named = names.join(said, on=["kind", "key"], how="left").with_columns(
        stated=pl.col("means").is_not_null(), name=pl.coalesce("means", "key")
    )
    named = _with_codes(named)
    spelt = (
        named.filter(pl.col("name") == pl.col("key"))
        .group_by("kind", "name", "written")
        .agg(pl.col("declared").sum() > 0, pl.col("lines").sum(), pl.col("first_on").min())
        .with_columns(plain=pl.col("written") == pl.col("name"))
        .sort("declared", "lines", "plain", "first_on", "written", descending=[True] * 3 + [False] * 2, nulls_last=True)
        .unique(["kind", "name"], keep="first", maintain_order=True)
        .select("kind", "name", spelling="written")
    )
    shown = named.join(spelt, on=["kind", "name"], how="left").with_columns(shown=pl.coalesce("spelling", "new_name"))
    otherwise = shown.filter(pl.col("shown") != pl.col("written")).sort(KEY)
    return otherwise.select(pl.col(name).cast(kind) for name, kind in NAME_READ.items())


def name_key(kind: pl.Expr, name: pl.Expr) -> pl.Expr:
    """Return the key under which the spellings of one name meet; part numbers and ids of cars are their own.

    Parameters
    ----------
    kind
        Component, position, location, part or vehicle.
    name
        Name as written.

    Examples
    --------
    >>> names = pl.DataFrame({"k": ["position", "part"], "n": ["Left-hand front", "SL-1101"]})
    >>> names.select(name_key(pl.col("k"), pl.col("n"))).to_series().to_list()
    ['front left', 'SL-1101']
    """
    return (
        pl.when(kind == "position")
        .then(position_key(name))
        .when(kind == "location")
        .then(sided(name))
        .when(kind == "component")
        .then(folded(name))
        .otherwise(name)
    )


def key_of(kind: str, name: str) -> str:
    """Return the key of one name.

    Examples
    --------
    >>> key_of("component", "Fuel-Hose")
    'fuel hose'
    """
    return str(pl.DataFrame({"name": [name]}).select(name_key(pl.lit(kind), pl.col("name"))).item())


def _with_codes(named: pl.DataFrame) -> pl.DataFrame:
    """Return the names with a letter or two read as the position of the component that they surely stand for."""
    components = named.filter(pl.col("kind") == "component").select(within="written", component="name")
    placed = named.join(components, on="within", how="left", maintain_order="left")
    code = (pl.col("kind") == "position") & ~pl.col("stated") & pl.col("key").str.contains(CODE)
    whole = placed.filter((pl.col("kind") == "position") & ~pl.col("name").str.contains(CODE)).drop_nulls("component")
    declared = pl.col("declared").max().over("component") > 0
    known = whole.filter(~declared | (pl.col("declared") > 0)).group_by("component").agg(pl.col("name").unique())
    positions = dict(known.rows())
    asked = placed.filter(code).drop_nulls("component").select("component", "key").unique()
    answers = [(c, key, read_code(key, positions.get(c, ()))) for c, key in asked.rows()]
    schema = {"component": pl.String, "key": pl.String, "meant": pl.String}
    meant = pl.DataFrame(answers, schema=schema, orient="row").with_columns(kind=pl.lit("position"))
    read = placed.join(meant, on=["kind", "component", "key"], how="left", maintain_order="left")
    free = pl.when(~pl.col("stated")).then("meant")
    return read.with_columns(name=pl.coalesce(free, "name")).drop("component", "meant")
