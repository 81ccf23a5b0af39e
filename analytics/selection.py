"""Choose the rows of a snapshot table that concern one component, in whatever spelling it is asked for."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import LedgerError, SnapshotError
from analytics.ledger import open_ledger, same_names
from analytics.ledger.names import key_of, name_key
from analytics.snapshot import TABLES, read_told

if TYPE_CHECKING:
    from pathlib import Path

    import duckdb


SEPARATOR = "; "
"""Between the components that a part serves, as the stock stage writes them."""

NAMING = ("record", "unit_now", "fault", "life_model", "failure_interval")
"""Snapshot tables that name every component there is."""

NEAR = 0.6
"""Likeness from which a name is proposed, from 0 to 1."""

SHOWN = 5


def rows_to_show(connection: duckdb.DuckDBPyConnection, name: str, component: str | None) -> pl.DataFrame:
    """Return a snapshot table as it may be shown, of one component or of all.

    Parameters
    ----------
    connection
        An open snapshot.
    name
        Name of a table.
    component
        Component as the snapshot names it; None = all rows.

    Raises
    ------
    SnapshotError
        If there is no such table, or the table is not kept by component.
    """
    frame = read_told(connection, name)
    if component is None:
        return frame
    if "component" in frame.columns:
        return frame.filter(pl.col("component") == component)
    if {"first", "then"} <= {*frame.columns}:
        return frame.filter((pl.col("first") == component) | (pl.col("then") == component))
    if "components" in frame.columns:
        return frame.filter(pl.col("components").str.split(SEPARATOR).list.contains(component))
    raise SnapshotError(
        f"table {name} is not kept by component",
        where="show --component",
        next_step=f"leave --component out, or choose one of: {', '.join(_by_component())}",
    )


def component_meant(connection: duckdb.DuckDBPyConnection, data_dir: Path, asked: str | None) -> str | None:
    """Return the snapshot's name of a component, in whatever spelling of the ledger it is asked for.

    Parameters
    ----------
    connection
        An open snapshot.
    data_dir
        Its data folder: names that a person said to be one are in its ledger.
    asked
        Name as typed; None = none was.

    Raises
    ------
    SnapshotError
        If the snapshot has no such component; it proposes the nearest ones.

    Notes
    -----
    Case, blanks, hyphens, underscores and full stops do not count, as in the records.
    """
    if asked is None:
        return None
    named = _components(connection)
    key = key_of("component", asked)
    if key not in named:
        key = _said(data_dir).get(key, key)
    if key in named:
        return named[key]
    near = [named[each] for each in get_close_matches(key, sorted(named), n=SHOWN, cutoff=NEAR)]
    some = sorted(named.values())[:SHOWN]
    raise SnapshotError(
        f"no record names a component {asked!r}",
        where="show --component",
        next_step=f"did you mean {' or '.join(map(repr, near))}?"
        if near
        else f"choose one of the records' components, for example {', '.join(some)}",
    )


def _components(connection: duckdb.DuckDBPyConnection) -> dict[str, str]:
    """Return the snapshot's components by key."""
    found = [connection.table(table).select("component").distinct().pl() for table in NAMING]
    served = connection.table("reorder").select("components").distinct().pl()["components"].str.split(SEPARATOR)
    names = pl.concat([*(each["component"] for each in found), served.explode()]).drop_nulls().unique().sort()
    keys = pl.DataFrame({"name": names}).select(name_key(pl.lit("component"), pl.col("name"))).to_series()
    return dict(zip(keys, names, strict=True))


def _said(data_dir: Path) -> dict[str, str]:
    """Return which key a person said to mean which; nothing where the ledger is not there or held by another."""
    try:
        with open_ledger(data_dir, write=False, wait_seconds=0) as ledger:
            stated = same_names(ledger).filter(pl.col("kind") == "component")
    except LedgerError:
        return {}
    return {key_of("component", old): key_of("component", new) for _, old, new in stated.rows()}


def _by_component() -> list[str]:
    return sorted(table.name for table in TABLES.values() if {"component", "components", "then"} & set(table.names))
