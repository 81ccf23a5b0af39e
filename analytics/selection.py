"""Choose the rows of a snapshot table that concern one component."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import SnapshotError
from analytics.snapshot import TABLES, read_table, read_told

if TYPE_CHECKING:
    import duckdb


SEPARATOR = "; "
"""Between the components that a part serves, as the stock stage writes them."""


def rows_to_show(connection: duckdb.DuckDBPyConnection, name: str, component: str | None) -> pl.DataFrame:
    """Return a snapshot table as it may be shown, of one component or of all.

    Parameters
    ----------
    connection
        An open snapshot.
    name
        Name of a table.
    component
        Name of a component in any spelling of its case; None = all rows.

    Raises
    ------
    SnapshotError
        If there is no such table, the table is not kept by component, or nothing is known of the component.
    """
    frame = read_told(connection, name)
    if component is None:
        return frame
    wanted = component.strip().lower()
    if "component" in frame.columns:
        found = frame.filter(pl.col("component").str.to_lowercase() == wanted)
    elif "components" in frame.columns:
        served = pl.col("components").str.to_lowercase().str.split(SEPARATOR)
        found = frame.filter(served.list.contains(wanted))
    else:
        raise SnapshotError(
            f"table {name} is not kept by component",
            where="show --component",
            next_step=f"leave --component out, or choose one of: {', '.join(_by_component())}",
        )
    if found.is_empty():
        _refuse_unknown(connection, wanted, component)
    return found


def _by_component() -> list[str]:
    return sorted(table.name for table in TABLES.values() if {"component", "components"} & set(table.names))


def _refuse_unknown(connection: duckdb.DuckDBPyConnection, wanted: str, component: str) -> None:
    """Tell a component without rows from one that nobody ever named."""
    names = {
        str(name)
        for table in ("record", "unit_now", "fault")
        for name in read_table(connection, table)["component"].drop_nulls().unique()
    }
    if wanted in {name.lower() for name in names}:
        return
    near = get_close_matches(wanted, sorted(names), n=5, cutoff=0.5) or sorted(names)[:5]
    raise SnapshotError(
        f"no record names a component {component!r}",
        where="show --component",
        next_step=f"choose one of the records' components, for example {', '.join(near)}",
    )
