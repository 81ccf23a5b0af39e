"""What was done to the ledger as its own tables tell it: the journal can be written again from it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.ledger.queries import answer

if TYPE_CHECKING:
    import duckdb

STEPS: dict[str, dict[str, type]] = {
    "load": {"load_id": int, "feed": str, "loaded_on": str, "complete": bool},
    "undo": {"load_id": int, "again": list},
    "withdraw": {"name": str, "reason": str},
    "same": {"kind": str, "old": str, "new": str},
    "not same": {"kind": str, "old": str},
}
"""What the journal notes of each kind of step."""


def told_steps(connection: duckdb.DuckDBPyConnection) -> list[dict[str, Any]]:
    """Return every step that the ledger's own tables tell, oldest first, as the journal notes them.

    Parameters
    ----------
    connection
        Open ledger.

    Notes
    -----
    Repeated in this order they give the same ledger. An order that had no line but those in quarantine when it was
    withdrawn is told line by line.
    """
    told = pl.concat([answer(connection, "told_loads"), answer(connection, "told_words")], how="diagonal")
    rows = told.sort("done_at", maintain_order=True).iter_rows(named=True)
    steps = [{"did": row["did"], **{name: row[name] for name in STEPS[row["did"]]}} for row in rows]
    return [{**step, "loaded_on": step["loaded_on"].isoformat()} if step["did"] == "load" else step for step in steps]
