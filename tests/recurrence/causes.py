"""Closed jobs with a complaint, and what checks take, by hand."""

from datetime import date, timedelta

import polars as pl

DAY0 = date(2015, 1, 1)
WHOLE = 2520
FACT = {
    "component": pl.String,
    "series": pl.String,
    "check_minutes": pl.Float64,
    "inspections": pl.Int64,
    "inspected_minutes": pl.Float64,
    "locations": pl.List(pl.String),
}
CAUSE = {
    "record": pl.String,
    "vehicle_id": pl.String,
    "series": pl.String,
    "came_on": pl.Date,
    "closed_on": pl.Date,
    "complaint": pl.String,
    "component": pl.String,
    "location": pl.String,
    "outcome": pl.String,
    "weight": pl.Int64,
}


def job(complaint, component, series="S2", car=None, on=None, *, place=None, shared=1, stay=2, outcome="found"):
    """One row: a visit, its complaint and the cause found (or what was looked at in vain)."""
    return {
        "series": series,
        "vehicle_id": car,
        "came_on": on,
        "stay": stay,
        "complaint": complaint,
        "component": component,
        "location": place,
        "outcome": outcome,
        "weight": WHOLE // shared if outcome == "found" else 0,
    }


def causes(*jobs):
    """Rows of ``complaint_cause``; a car and a day of its own for each job that names none."""
    rows = []
    for number, each in enumerate(jobs):
        on = each["came_on"] or DAY0 + timedelta(days=10 * number)
        row = {**each, "vehicle_id": each["vehicle_id"] or f"car {number}", "came_on": on}
        rows.append({**row, "record": f"R{number:04d}/1", "closed_on": on + timedelta(days=each["stay"])})
    return pl.DataFrame([{name: row[name] for name in CAUSE} for row in rows], schema=CAUSE)


def facts(minutes, series=("S1", "S2", "S3"), places=None, inspected=None):
    """Rows of ``check_fact``: minutes stated per component, None = not stated."""
    rows = [
        {
            "component": component,
            "series": each,
            "check_minutes": None if stated is None else float(stated),
            "inspections": 5 if component in (inspected or {}) else 0,
            "inspected_minutes": (inspected or {}).get(component),
            "locations": (places or {}).get(component, []),
        }
        for component, stated in minutes.items()
        for each in series
    ]
    return pl.DataFrame(rows, schema=FACT)


def places(*rows):
    """Rows of ``locations``: place, the one above it, minutes to open it."""
    schema = {"location": pl.String, "parent": pl.String, "access_minutes": pl.Float64}
    return pl.DataFrame(rows, schema=schema, orient="row")


NO_PLACES = places()
