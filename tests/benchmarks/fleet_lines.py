"""Feeds of any size for benchmarks: cars, components, part numbers and lines of closed jobs, nothing to quarantine."""

from datetime import date

import numpy as np
import polars as pl

LAST_DAY = date(2026, 11, 24)
"""Day of loading and as-of day of the benchmarks."""

YEARS = 14
LINES_A_CAR, LINES_A_JOB = 60, 2
AT_A_TIME = 250_000
"""Lines made and written at a time, so that the writer needs no more memory for more of them."""

SERIES = ("S1", "S2", "S3")
POSITIONS = ("", "left;right", "front left;front right;rear left;rear right")
COMPONENTS = 60
REASONS = {
    "failure": 0.45,
    "found at inspection": 0.15,
    "changed in passing": 0.05,
    "planned": 0.25,
    "consequence": 0.05,
    "not recorded": 0.05,
}
ACTIONS = {"replaced": 0.6, "overhauled": 0.05, "repaired": 0.15, "adjusted": 0.1, "inspected": 0.1}
COMPLAINTS = ("will not start when warm", "drips overnight", "pulls to one side", "rattles over bumps", "runs hot", "")


def write_feed(folder, lines, seed=2075):
    """Write vehicles, components, parts and `lines` repair lines as CSV into `folder`; return the repairs' file.

    The same arguments write the same bytes.
    """
    rng = np.random.default_rng(seed)
    cars = max(lines // LINES_A_CAR, 1)
    kinds = [POSITIONS[kind % len(POSITIONS)].split(";") for kind in range(COMPONENTS)]
    _vehicles(rng, cars).write_csv(folder / "vehicles.csv")
    _components(kinds).write_csv(folder / "components.csv")
    _parts().write_csv(folder / "parts.csv")
    a_day, began = rng.uniform(5, 45, cars), rng.integers(20_000, 150_000, cars)
    file = folder / "repairs.csv"
    with file.open("wb") as stream:
        for first in range(0, lines, AT_A_TIME):
            part = _repairs(rng, min(AT_A_TIME, lines - first), first, a_day, began, kinds)
            part.write_csv(stream, include_header=not first)
    return file


def _names(pattern, numbers):
    return pl.Series([pattern.format(number) for number in numbers], dtype=pl.String)


def _days(ordinals):
    return pl.Series(np.asarray(ordinals) - date(1970, 1, 1).toordinal()).cast(pl.Int32).cast(pl.Date)


def _vehicles(rng, cars):
    built = date(1975, 1, 1).toordinal() + rng.integers(0, 5000, cars)
    return pl.DataFrame(
        {
            "vehicle_id": _names("C{:06d}", range(cars)),
            "series": rng.choice(SERIES, cars),
            "built_on": _days(built),
            "serial": _names("{:06d}", range(cars)),
            "odometer_digits": 6,
        }
    )


def _components(kinds):
    rows = [
        {
            "component": f"component {kind:02d}",
            "position": position,
            "system": f"system {kind // 6}",
            "family": f"family {kind // 3}",
        }
        for kind, positions in enumerate(kinds)
        for position in positions
    ]
    return pl.DataFrame(rows)


def _parts():
    rows = [
        {"part_no": _part_no(kind, variant), "component": f"component {kind:02d}", "variant": f"design {variant}"}
        for kind in range(COMPONENTS)
        for variant in range(2)
    ]
    return pl.DataFrame(rows)


def _part_no(kind, variant):
    return f"P-{kind:02d}-{variant}"


def _repairs(rng, lines, jobs_before, a_day, began, kinds):
    job = np.sort(rng.integers(0, max(lines // LINES_A_JOB, 1), lines))
    jobs = _jobs(rng, int(job[-1]) + 1, a_day, began)
    kind = np.minimum(rng.geometric(0.05, lines) - 1, COMPONENTS - 1)
    position = _places(rng, kind, kinds)
    action = rng.choice(list(ACTIONS), lines, p=list(ACTIONS.values()))
    fitted = np.isin(action, ["replaced", "overhauled"])
    variants = np.array([[_part_no(each, variant) for variant in range(2)] for each in range(COMPONENTS)])
    part_no = variants[kind, rng.integers(0, 2, lines)]
    begins = np.flatnonzero(np.diff(job, prepend=-1))
    first = np.zeros(lines, dtype=np.int64)
    first[begins] = begins
    line_no = np.arange(lines) - np.maximum.accumulate(first) + 1
    return pl.DataFrame(
        {
            "record_id": _names("J{:07d}", jobs_before + job),
            "line_no": line_no,
            "vehicle_id": _names("C{:06d}", jobs["car"][job]),
            "opened_on": _days(jobs["opened"][job]),
            "closed_on": _days(jobs["closed"][job]),
            "odometer": jobs["odometer"][job],
            "odometer_unit": "km",
            "symptom": np.where(line_no == 1, rng.choice(COMPLAINTS, lines), ""),
            "came_for": np.where(line_no == 1, "yes", "no"),
            "component": _names("component {:02d}", kind),
            "position": position,
            "finding": rng.choice(["worn", "cracked", "leaking", "seized", ""], lines),
            "cause": rng.choice(["wear", "corrosion", ""], lines),
            "action": action,
            "reason": rng.choice(list(REASONS), lines, p=list(REASONS.values())),
            "part_no": np.where(fitted, part_no, ""),
            "part_origin": np.where(fitted, rng.choice(["new", "reproduction", "used"], lines), ""),
            "quantity": np.where(fitted, 1, 0),
            "labour_minutes": rng.integers(2, 40, lines) * 6,
            "cost": rng.integers(500, 60000, lines) / 100,
            "currency": "EUR",
        }
    ).with_columns(
        pl.when(pl.col(pl.String) != "").then(pl.col(pl.String)),
        pl.when(pl.col("part_no") != "").then("quantity").alias("quantity"),
    )


def _jobs(rng, jobs, a_day, began):
    """Return car, opened, closed, odometer per job, in order of opening; the odometer only rises."""
    last = LAST_DAY.toordinal()
    opened = np.sort(last - rng.integers(5, 365 * YEARS, jobs))
    car = rng.integers(0, len(a_day), jobs)
    driven = a_day[car] * (opened - (last - 365 * YEARS))
    return {
        "car": car,
        "opened": opened,
        "closed": opened + rng.integers(0, 5, jobs),
        "odometer": (began[car] + driven).astype(np.int64),
    }


def _places(rng, kind, kinds):
    widest = max(len(positions) for positions in kinds)
    named = np.array([positions + [""] * (widest - len(positions)) for positions in kinds])
    count = np.array([len(positions) for positions in kinds])
    return named[kind, (rng.random(kind.size) * count[kind]).astype(np.int64)]
