"""Small histories by hand: a ledger of a few rows, read as of a day, and its rows as plain Python."""

from __future__ import annotations

import hashlib
from datetime import date
from typing import TYPE_CHECKING, Any

from analytics.parameters import Parameters
from analytics.spells.history import build_history
from tests.fleet import Row, ledger_of

if TYPE_CHECKING:
    import duckdb

AS_OF = date(2020, 12, 31)
FOUR = ("front left", "front right", "rear left", "rear right")


def car(vehicle_id: str = "A", series: str = "S1", **columns: Any) -> Row:
    return {"vehicle_id": vehicle_id, "series": series, **columns}


def job(closed_on: str, component: str | None = "hose", **columns: Any) -> Row:
    """Return a line: opened and closed on one day, unless it says otherwise; a failure answered by a new hose."""
    line = {"vehicle_id": "A", "opened_on": closed_on, "closed_on": closed_on, "component": component}
    return {**line, "reason": "failure", "action": "replaced", **columns}


def own_order(positions: tuple[str, ...] = FOUR, vehicle_id: str = "A", component: str = "hose") -> list[str]:
    """Return positions in the order in which a car's never renewed units are taken for the oldest."""
    return sorted(positions, key=lambda p: hashlib.md5(f"{vehicle_id}|{component}|{p}".encode()).hexdigest())


def places(component: str = "hose", positions: tuple[str, ...] = FOUR, **columns: Any) -> list[Row]:
    return [{"component": component, "position": p, "system": "cooling", **columns} for p in positions]


def history(*, as_of: date = AS_OF, parameters: Parameters | None = None, **tables: Any) -> duckdb.DuckDBPyConnection:
    """Return a connection with the temporary tables of the history stage; one car ``A`` unless told otherwise."""
    connection = ledger_of(**{"vehicles": [car()], **tables})
    build_history(connection, as_of, parameters or Parameters())
    return connection


def rows(connection: duckdb.DuckDBPyConnection, query: str) -> list[Any]:
    """Return the rows as plain Python; a row of one column as its value; dates as ISO text."""
    plain = [
        tuple(value.isoformat() if isinstance(value, date) else value for value in row)
        for row in connection.sql(query).fetchall()
    ]
    return [row[0] for row in plain] if plain and len(plain[0]) == 1 else plain
