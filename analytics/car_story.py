"""One car's story from the snapshot: visits with their lines, what is fitted now, faults left."""

from __future__ import annotations

import re
from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import SnapshotError
from analytics.snapshot import open_snapshot, read_table

if TYPE_CHECKING:
    from pathlib import Path

NOT_KNOWN = "not known"
NO_SLOT = ("only", "all")
"""Positions that name no slot."""

ESCAPES = re.compile(
    r"(?:\x1b\[|\x9b)[0-?]*[ -/]*[@-~]"  # colours, cursor
    r"|(?:\x1b[\]PX^_]|[\x90\x98\x9d-\x9f])[^\x07\x1b\x9c]*(?:\x07|\x1b\\|\x9c)"  # titles, links
    r"|\x1b[ -/]*[0-~]"
)
CONTROLS = re.compile(r"[\x00-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069]+")
"""Signs that no text of a record needs, and that a terminal would obey."""


@dataclass(frozen=True, slots=True)
class CarStory:
    """What the snapshot holds of one car.

    Attributes
    ----------
    vehicle
        One row of ``vehicle``.
    lines
        Rows of ``record``, oldest first.
    units
        Rows of ``unit_now``.
    as_of
        Day of the snapshot.
    """

    vehicle: dict[str, object]
    lines: pl.DataFrame
    units: pl.DataFrame
    as_of: str


def car_story(snapshot: Path, vehicle_id: str, *hidden_as: str) -> CarStory:
    """Return one car's story.

    Parameters
    ----------
    snapshot
        The snapshot's file.
    vehicle_id
        The car.
    *hidden_as
        Other ids it may have there: its keyed hash, and those said to be the same car.

    Raises
    ------
    SnapshotError
        If the snapshot does not hold the car; near names are offered.
    """
    with open_snapshot(snapshot) as connection:
        found = [read_table(connection, "vehicle", vehicle_id=name) for name in (vehicle_id, *hidden_as)]
        vehicles = pl.concat(found)
        if vehicles.is_empty():
            raise SnapshotError(
                f"no car {vehicle_id!r} has a record up to the day of this snapshot",
                where=snapshot.name,
                next_step=_near(read_table(connection, "vehicle"), vehicle_id),
            )
        name = str(vehicles["vehicle_id"][0])
        return CarStory(
            vehicles.row(0, named=True),
            read_table(connection, "record", vehicle_id=name).sort("closed_on", "record_id", "line_no"),
            read_table(connection, "unit_now", vehicle_id=name),
            str(read_table(connection, "meta", name="as_of")["value"][0]),
        )


def _near(vehicles: pl.DataFrame, vehicle_id: str) -> str:
    if vehicles.is_empty():
        return "load vehicles and repairs, and analyse again: no car has been seen yet"
    part = vehicle_id.strip().lower()
    near = vehicles.filter(pl.col("vehicle_id").str.to_lowercase().str.contains(part, literal=True))
    names = near["vehicle_id"].head(5).to_list() or vehicles["vehicle_id"].head(5).to_list()
    return f"choose a car of the ledger, for example {', '.join(names)}"


def as_text(story: CarStory) -> str:
    """Return the story as plain text, one paragraph per visit."""
    parts = [_title(story), ""]
    for heading, lines in _visits(story):
        parts += [heading, *(f"  {line}" for line in lines)]
    parts += ["", f"In place on {story.as_of}:", *(f"  {unit}" for unit in _units(story))]
    return "\n".join(without_controls(part) for part in parts)


def without_controls(text: str) -> str:
    r"""Return one line of text without what a terminal would obey: escape sequences go, control signs become a space.

    Examples
    --------
    >>> without_controls("hose\x1b[31m, front\tleft")
    'hose, front left'
    """
    return CONTROLS.sub(" ", ESCAPES.sub("", text))


def as_html(story: CarStory) -> str:
    """Return the story as one self-contained page that asks no other host for anything."""
    visits = "".join(
        f"<section><h2>{_shown(heading)}</h2><ul>{''.join(f'<li>{_shown(line)}</li>' for line in lines)}</ul></section>"
        for heading, lines in _visits(story)
    )
    units = "".join(f"<li>{_shown(unit)}</li>" for unit in _units(story))
    title = _shown(_title(story))
    return (
        "<!doctype html><html lang='en'><head><meta charset='utf-8'>"
        "<meta name='viewport' content='width=device-width'><meta name='color-scheme' content='light dark'>"
        f"<title>{title}</title><style>body{{font:17px/1.5 sans-serif;max-width:48rem;margin:2rem auto;padding:0 1rem}}"
        "h1,h2{font-family:serif}h2{font-size:1.05rem;margin:1.2rem 0 .2rem}section{break-inside:avoid}</style></head>"
        f"<body><h1>{title}</h1>{visits}<h2>In place on {escape(story.as_of)}</h2><ul>{units}</ul></body></html>\n"
    )


def _shown(text: str) -> str:
    return escape(without_controls(text))


def _day(row: dict[str, object], name: str) -> str:
    """Return a day as told, or that it is near it where only a month or year was told."""
    inferred = str(row["inferred"] or "").split(";")
    return f"about {row[name]}" if name in inferred else str(row[name])


def _title(story: CarStory) -> str:
    car = story.vehicle
    built = _day(car, "built_on") if car["built_on"] else NOT_KNOWN
    return f"{car['vehicle_id']}, series {car['series']}, built {built}: seen {car['first_seen']} to {car['last_seen']}"


def _visits(story: CarStory) -> list[tuple[str, list[str]]]:
    orders = story.lines.group_by("record_id", "closed_on", maintain_order=True)
    return [(_heading(frame), [_line(row) for row in frame.iter_rows(named=True)]) for _, frame in orders]


def _heading(frame: pl.DataFrame) -> str:
    row = frame.row(0, named=True)
    km = row["odometer_km"]
    distance = "" if km is None else f", {km:,.0f} km".replace(",", " ")
    return f"{_day(row, 'closed_on')}  job {row['record_id']}{distance}"


def _line(row: dict[str, object]) -> str:
    place = " ".join(str(row[c]) for c in ("component", "position") if row[c] and row[c] not in NO_SLOT)
    part = f", part {row['part_no']}" if row["part_no"] else ""
    where = f", at {row['location']}" if row["location"] else ""
    done = f"{row['action']}, found good" if row["clean_check"] else row["action"]
    return f"{place or 'no component named'}: {done} ({row['reason']}){part}{where}"


def _units(story: CarStory) -> list[str]:
    started = {
        row["record"]: row for row in story.lines.select("record", "closed_on", "inferred").iter_rows(named=True)
    }
    lines = []
    for row in story.units.iter_rows(named=True):
        position = "" if row["position"] in NO_SLOT else f" {row['position']}"
        since = _since(row, started.get(row["start_record"]), story.vehicle)
        part = f", part {row['part_no']}" if row["part_no"] else ""
        state = "" if row["state"] == "running" else f" -- {row['state']}"
        lines.append(f"{row['component']}{position}: {since}{part}{state}")
    return lines or ["nothing recorded yet"]


def _since(unit: dict[str, object], line: dict[str, object] | None, car: dict[str, object]) -> str:
    """Say since when a unit is in place, and how that is known."""
    if unit["fitted_on"] is None:
        return "since before its first visit"
    if line is not None:
        day = _day(line, "closed_on") if line["closed_on"] == unit["fitted_on"] else str(unit["fitted_on"])
        return f"since {day}" if unit["age_known"] else f"since {day}, its age when fitted not known"
    if unit["fitted_on"] == car["built_on"]:
        return f"since the car was built, {_day(car, 'built_on')}"
    return f"since about {unit['fitted_on']}, by the owner's papers"
