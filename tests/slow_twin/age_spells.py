"""Spells by age, the slow way: one position after another, one event after another, one day after another."""

from __future__ import annotations

from collections import defaultdict
from dataclasses import dataclass, field
from datetime import date, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    import duckdb

FAULTS = ("failure", "found at inspection", "consequence")
RANK = (*FAULTS, "accident", "changed in passing", "planned", "no fault found")
ONE = timedelta(days=1)
Row = dict[str, Any]


@dataclass
class Unit:
    """A unit at its position while it is still in the life tables."""

    no: int
    zero: date
    watched_from: date
    known: bool
    ours: bool
    used: bool = False
    dropped: bool = False
    spells: list[tuple[Any, ...]] = field(default_factory=list)


def read(connection: duckdb.DuckDBPyConnection, table: str) -> list[Row]:
    relation = connection.table(table)
    return [dict(zip(relation.columns, row, strict=True)) for row in relation.fetchall()]


def age_spells(connection: duckdb.DuckDBPyConnection) -> list[tuple[Any, ...]]:
    """Return (vehicle, component, position, unit_no, entry, exit, exit_lower, event, cause, age_known), sorted."""
    cars = {row["vehicle_id"]: row for row in read(connection, "car")}
    days = {row["visit_id"]: row["day"] for row in read(connection, "visit")}
    ends = {(row["vehicle_id"], row["component"]): row["end_on"] for row in read(connection, "watch_window")}
    tables = {name: read(connection, name) for name in ("repair", "fitting", "clean_check", "lay_up")}
    found = []
    for slot in read(connection, "slot"):
        place = (slot["vehicle_id"], slot["component"], slot["position"])
        car = cars[slot["vehicle_id"]]
        if slot["whole_car"] or car["joined_on"] is None:
            continue
        repairs = [r for r in tables["repair"] if (r["vehicle_id"], r["component"], r["position"]) == place]
        papers = [
            f
            for f in tables["fitting"]
            if (f["vehicle_id"], f["component"], f["position"]) == place and f["fate"] == "used"
        ]
        checks = [
            c["checked_on"]
            for c in tables["clean_check"]
            if (c["vehicle_id"], c["component"]) == place[:2] and c["position"] in (None, place[2])
        ]
        stays = [(s["from_on"], s["to_on"]) for s in tables["lay_up"] if s["vehicle_id"] == place[0]]
        window = ends[place[:2]]
        if window is None:
            continue
        events = merge(repairs, papers, days, car["joined_on"])
        for unit in walk(car, papers, events, Watch(window, checks, stays)):
            found += [(*place, unit.no, *spell, unit.known) for spell in unit.spells]
    return sorted(found)


@dataclass
class Watch:
    """What is known of the watching of one position."""

    window: date
    checks: list[date]
    stays: list[tuple[date, date]]


def merge(repairs: list[Row], papers: list[Row], days: dict[str, date], joined: date) -> list[Row]:
    """Join repairs whose orders were open at once into one event."""
    steps = [
        {**r, "day": days[r["visit_id"]], "paper": False, "order": (r["fault_on"], r["closed_on"], 0, r["repair_no"])}
        for r in repairs
    ]
    for f in papers:
        on = f["fitted_on"]
        if on > joined:
            told = {"fault_on": on, "closed_on": on, "day": on, "reads_as": "changed in passing", "renews": True}
            steps.append(
                {
                    **told,
                    "modified": False,
                    "joining": False,
                    "reason_recorded": True,
                    "part_origin": None,
                    "paper": True,
                    "order": (on, on, 1, 0),
                }
            )
    events: list[list[Row]] = []
    for step in sorted(steps, key=lambda s: s["order"]):
        if events and step["fault_on"] < max(s["closed_on"] for s in events[-1]):
            events[-1].append(step)
        else:
            events.append([step])
    return [one_of(together) for together in events]


def one_of(steps: list[Row]) -> Row:
    told = [s for s in steps if s["reason_recorded"]] or steps
    strongest = min(told, key=lambda s: (RANK.index(s["reads_as"]) if s["reason_recorded"] else 9, s["closed_on"]))
    renewing = sorted((s for s in steps if s["renews"]), key=lambda s: s["closed_on"])
    return {
        "reads_as": strongest["reads_as"],
        "fault_on": min(s["fault_on"] for s in steps),
        "closed_on": max(s["closed_on"] for s in steps),
        "day": min(s["day"] for s in steps),
        "joining": any(s["joining"] for s in steps),
        "renews": bool(renewing),
        "modified": any(s["modified"] for s in steps),
        "used": bool(renewing) and renewing[-1]["part_origin"] == "used",
        "paper": all(s["paper"] for s in steps),
    }


def walk(car: Row, papers: list[Row], events: list[Row], watch: Watch) -> list[Unit]:
    """Follow one position from joining to the end of watching."""
    joined = car["joined_on"]
    earlier = [f["fitted_on"] for f in papers if f["fitted_on"] <= joined]
    if earlier:
        unit = Unit(1, max(earlier), joined, known=True, ours=False)
    elif car["since_new"]:
        unit = Unit(1, min(car["built_on"], joined), joined, known=True, ours=False)
    else:
        unit = Unit(1, joined, joined, known=False, ours=False)
    units, answered = [unit], False
    for event in events:
        fault = event["reads_as"] in FAULTS
        modifies = event["modified"] and not event["renews"] and not fault
        if not answered and (fault or event["renews"] or modifies):
            if fault and event["joining"] and not unit.ours:
                unit.dropped = True
            end(unit, event, modifies, watch)
            unit.watched_from = max(event["closed_on"], joined)
        answered = answered or fault
        if event["renews"]:
            began = event["closed_on"]
            unit = Unit(unit.no + 1, began, max(began, joined), not event["used"], not event["paper"], event["used"])
            units.append(unit)
            answered = False
    if not answered:
        end(unit, None, False, watch)
    return [u for u in units if not u.dropped and not u.used]


def end(unit: Unit, event: Row | None, modifies: bool, watch: Watch) -> None:
    if event is None or event["day"] > watch.window:
        last, cause = watch.window, "window end"
    else:
        last = event["fault_on"]
        cause = "modified" if modifies else event["reads_as"].replace("changed in passing", "in passing")
    failed = cause in ("failure", "found at inspection")
    start = unit.watched_from
    if last < start or (last == start and not failed):
        return
    lower = None
    stays = watch.stays
    if cause == "found at inspection":
        lower = max([c for c in watch.checks if start < c < last], default=start)
        stays = [s for s in stays if s[1] <= lower]
    unit.spells += pieces(unit, start, last, failed, cause, lower, stays)


def pieces(
    unit: Unit, start: date, last: date, failed: bool, cause: str, lower: date | None, stays: list[tuple[date, date]]
) -> list[tuple[Any, ...]]:
    """Count every day from start to last that is not inside a stay; a run of such days is a piece."""
    for begin, finish in stays:
        if begin < last and (last < finish or (last == finish and not failed)) and finish > start:
            last = max(begin, start)
    runs: list[list[date]] = []
    day = start
    while day < last:
        if not any(begin <= day < finish for begin, finish in stays):
            if runs and runs[-1][1] == day:
                runs[-1][1] = day + ONE
            else:
                runs.append([day, day + ONE])
        day += ONE
    if failed and (not runs or runs[-1][1] != last):
        runs.append([last, last + ONE])
    rows: list[tuple[Any, ...]] = []
    for begin, finish in runs:
        entry, exit_ = (begin - unit.zero).days, (finish - unit.zero).days
        ends_here = (begin, finish) == tuple(runs[-1]) and (finish == last or failed)
        at = None if lower is None or not ends_here else min(max((lower - unit.zero).days, entry), exit_ - 1)
        rows.append((entry, exit_, at, int(failed and ends_here), cause if ends_here else "window end"))
    return rows


def by_position(rows: list[tuple[Any, ...]]) -> dict[tuple[str, str, str], list[tuple[Any, ...]]]:
    """Group spells by vehicle, component and position, for messages that can be read."""
    grouped = defaultdict(list)
    for row in rows:
        grouped[row[:3]].append(row[3:])
    return dict(grouped)
