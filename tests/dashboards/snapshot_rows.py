"""Rows of a snapshot by hand, with defaults for what a test does not care about."""

from __future__ import annotations

import math
import random
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

import polars as pl

from analytics.snapshot.tables import TABLES
from analytics.snapshot.write import write_snapshot

if TYPE_CHECKING:
    from pathlib import Path

Row = dict[str, Any]
AS_OF = date(2026, 11, 24)
YEAR = 365
EMPTY: dict[str, Any] = {"text": "unknown", "date": AS_OF, "number": 0.0, "whole": 0, "yes_no": False}
USUAL = {"variant_told_by": "fitting"}
EXTRA = {"fault_location": {"shrunken_lower": pl.Float64, "shrunken_upper": pl.Float64, "depth": pl.Int64}}


def frame(name: str, rows: list[Row]) -> pl.DataFrame:
    """Fill what a row leaves out: null where a column may be empty, else a plain value of its kind."""
    table = TABLES[name]
    base = {c.name: None if c.nullable else USUAL.get(c.name, EMPTY[c.kind]) for c in table.columns}
    schema = {**table.schema, **EXTRA.get(name, {})}
    return pl.DataFrame([{**base, **row} for row in rows], schema=schema)


def write(folder: Path, tables: dict[str, list[Row]], snapshot_id: str) -> Path:
    meta = {"snapshot_id": snapshot_id, "as_of": AS_OF.isoformat(), "own_failures": "5", "risk_set_least": "5"}
    frames = {name: frame(name, rows) for name, rows in tables.items() if rows}
    frames["meta"] = frame("meta", [{"name": name, "value": value} for name, value in meta.items()])
    write_snapshot(folder, snapshot_id, frames)
    return folder


def weibull(time: float, life: float, shape: float) -> float:
    return math.exp(-((time / life) ** shape))


def life_rows(group: Row, life: float, shape: float, wide: float, ends: tuple[int, int] = (1, 20)) -> list[Row]:
    """Survival at whole years (or 10,000 km) of a law whose limits are those of a longer and a shorter life."""
    step = YEAR if group["scale"] == "age" else 10_000
    return [
        {
            **group,
            "time": k * step,
            "survival": weibull(k * step, life, shape),
            "lower": weibull(k * step, life / wide, shape),
            "upper": weibull(k * step, life * wide, shape),
            "basis": "own",
        }
        for k in range(ends[0], ends[1] + 1)
    ]


def model_row(group: Row, failures: int, units: int, life50: float | None, **more: Any) -> Row:
    limits = {} if life50 is None else {"life50": life50, "life50_lower": life50 / 1.3, "life50_upper": life50 * 1.4}
    counts = {"failures": failures, "units": units, "events_seen": failures, "events_used": failures}
    return {**group, **counts, **limits, "unit_time": units * 6.5 * YEAR, "basis": "own", "status": "ok", **more}


def group(component: str, grouping: str = "component", level: str = "all", scale: str = "age") -> Row:
    return {"component": component, "grouping": grouping, "level": level, "scale": scale}


class Fleet:
    """Rows of a snapshot under construction; `rows` holds them by table."""

    def __init__(self, seed: int = 7) -> None:
        self.draw = random.Random(seed)
        self.rows: dict[str, list[Row]] = {name: [] for name in TABLES}
        self.jobs = 0

    def car(self, vehicle_id: str, series: str, **more: Any) -> None:
        row = {"vehicle_id": vehicle_id, "series": series, "visits": 9, "first_seen": date(2012, 5, 3)}
        self.rows["vehicle"].append({**row, "last_seen": date(2026, 9, 1), "built_on": date(1975, 7, 1), **more})

    def job(self, vehicle_id: str, on: date, component: str | None, position: str | None, **more: Any) -> str:
        self.jobs += 1
        line = f"R{self.jobs:04d}/1"
        row = {"record": line, "record_id": line[:-2], "line_no": 1, "vehicle_id": vehicle_id, "series": "S2"}
        told = {"opened_on": on, "closed_on": on + timedelta(days=2), "component": component, "position": position}
        usual = {"action": "replaced", "reason": "failure", "quantity": 1.0, "spell_note": "used"}
        self.rows["record"].append({**row, **told, **usual, **more})
        if {**usual, **more}["reason"] in ("failure", "found at inspection") and component:
            fault = {"fault_record": line, "vehicle_id": vehicle_id, "series": "S2", "visit_day": on, "used": True}
            place = {"component": component, "position": position or "all", "location": more.get("location")}
            self.rows["fault"].append({**fault, **place, "reads_as": "failure"})
        return line

    def lives(self, component: str, positions: list[str], failures: int, units: int, **more: Any) -> None:
        """Add spells: so many failures, the others still running; their records; no model."""
        for k in range(units):
            position = positions[k % len(positions)]
            failed = k < failures
            exit_ = int((0.6 + 9 * self.draw.random()) * YEAR)
            on = date(2013, 1, 10) + timedelta(days=self.draw.randrange(4600))
            car = f"LW2-{8000 + k % 12:05d}"
            line = self.job(car, on, component, position, part_no=more.get("variant")) if failed else None
            spell = {"vehicle_id": car, "component": component, "position": position}
            ends = {"exit": exit_, "event": int(failed), "cause": "failure" if failed else "window end"}
            self.rows["spell"].append(
                {**spell, "series": "S2", "scale": "age", **ends, "age_known": k % 3 > 0, "end_record": line}
                | {"unit_no": len(self.rows["spell"]) + 1}
                | {"reason_recorded": True}
                | more
            )

    def curve(self, of: Row, steps: int, life: float) -> None:
        for k in range(1, steps + 1):
            s = 1 - k / (steps + 4)
            time = int(life * (k / steps) ** 0.8)
            row = {"time": time, "at_risk": steps + 6 - k, "events": 1, "survival": s, "given_lasted_to": 0}
            self.rows["survival_curve"].append({**of, **row, "lower": s * 0.8, "upper": min(1.0, s * 1.2)})
