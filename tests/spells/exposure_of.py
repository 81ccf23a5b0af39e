"""Small exposures by hand: a ledger of a few rows, and its spells as plain tuples."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.parameters import Parameters
from analytics.spells.exposure import Exposure, build_exposure
from tests.fleet import ledger_of
from tests.spells.history_of import AS_OF, car, job

if TYPE_CHECKING:
    from datetime import date


def exposed(*, as_of: date = AS_OF, parameters: Parameters | None = None, **tables: Any) -> Exposure:
    """Return the exposure of a few rows; one car ``A`` unless told otherwise."""
    return build_exposure(ledger_of(**{"vehicles": [car()], **tables}), as_of, parameters or Parameters())


def seen(day: str, vehicle_id: str = "A", **columns: Any) -> dict[str, Any]:
    """Return a visit at which nothing of interest happens."""
    line = {"vehicle_id": vehicle_id, "component": "horn", "reason": "planned", "action": "inspected"}
    return job(day, **{**line, **columns})


def lives(exposure: Exposure, *columns: str, component: str = "hose", scale: str = "age", **where: Any) -> list[Any]:
    """Return the chosen columns of a component's spells in order of position, unit and entry."""
    wanted = columns or ("unit_no", "entry", "exit", "event", "cause")
    rows = exposure.spell.filter(
        pl.col("component") == component, pl.col("scale") == scale, *(pl.col(k) == v for k, v in where.items())
    ).select(wanted)
    return rows.to_series().to_list() if len(wanted) == 1 else rows.rows()


def reasons(exposure: Exposure, kind: str) -> dict[str, int]:
    """Return counts by reason of one kind of finding."""
    rows = exposure.left_out.filter(pl.col("kind").str.starts_with(f"{kind}: "))
    return dict(zip(rows["kind"].str.strip_prefix(f"{kind}: "), rows["count"], strict=True))


def one(frame: pl.DataFrame, *columns: str, **where: Any) -> Any:
    """Return the values of the only row that matches."""
    rows = frame.filter(*(pl.col(k) == v for k, v in where.items())).select(columns)
    assert rows.height == 1, rows
    return rows.row(0) if len(columns) > 1 else rows.item()
