"""Say what loading a feed would do, without loading it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import polars as pl

from analytics.errors import FeedError
from analytics.records.between_rows import between_rows
from analytics.records.feed import FEED
from analytics.records.judge import Judged, judge
from analytics.records.mapped import MappedFeed, map_feed
from analytics.records.mapping import KEYED_HASH
from analytics.records.mapping_file import parse_mapping, parse_mapping_text
from analytics.records.proposal import propose_mapping, propose_settings

if TYPE_CHECKING:
    from datetime import date

    from analytics.records.mapping import Mapping

SHOWN = 10
"""Rows printed per table."""


def dry_run(path: Path, mapping_path: Path | None, *, loaded_on: date) -> list[str]:
    """Return, line by line, what loading the feed would do; propose a mapping where the feed is not native.

    Parameters
    ----------
    path
        File or folder of the feed.
    mapping_path
        Mapping file, None where there is none.
    loaded_on
        Day the load would happen.

    Returns
    -------
    list of str
        Lines to print. Without a mapping, for a feed that is not native, they begin with a proposal; for a native
        feed of which more could be read if it were said how it writes dates and numbers, they end with one. It is
        also written beside the feed unless a file of that name is there.

    Raises
    ------
    FeedError
        If the feed or the mapping cannot be read.
    """
    if mapping_path is not None:
        return describe(*_read(path, parse_mapping(mapping_path), loaded_on))
    try:
        mapped, judged = _read(path, None, loaded_on)
        return [*describe(mapped, judged), *_read_better(path, mapped, judged, loaded_on)]
    except FeedError as refusal:
        proposal = propose_mapping(path, loaded_on)
        lines = [f"not a native feed: {refusal.what}", "", *proposal.splitlines(), "", _keep(path, proposal)]
    try:
        return [
            *lines,
            "",
            "Read with this mapping:",
            *describe(*_read(path, parse_mapping_text(proposal, "proposal"), loaded_on)),
        ]
    except FeedError as refusal:
        return [*lines, f"It is not complete yet: {refusal.what}; {refusal.next_step}"]


def describe(mapped: MappedFeed, judged: dict[str, Judged]) -> list[str]:
    """Return lines that say what was read, converted, set aside and quarantined, with an example each.

    Parameters
    ----------
    mapped
        The feed after its mapping.
    judged
        Judgement of each of its tables, by name.
    """
    lines: list[str] = []
    for name, rows in mapped.tables.items():
        lines += [*_counts(name, rows, judged[name]), *_first_rows(name, judged[name]), *_findings(judged[name]), ""]
    notes = list(mapped.notes)
    if mapped.settings.get("vehicle_id") == KEYED_HASH:
        notes.append("vehicle_id is shown as it is read; a keyed hash takes its place before anything is written")
    return [*lines, *between_rows(judged), *(f"note: {note}" for note in notes)]


def _read(path: Path, mapping: Mapping | None, loaded_on: date) -> tuple[MappedFeed, dict[str, Judged]]:
    mapped = map_feed(path, mapping)
    judged = {
        name: judge(name, rows, loaded_on=loaded_on, settings=mapped.settings) for name, rows in mapped.tables.items()
    }
    return mapped, judged


def _read_better(path: Path, mapped: MappedFeed, judged: dict[str, Judged], loaded_on: date) -> list[str]:
    """Propose how a native feed writes dates and numbers, if more of it can be read so."""
    proposal = propose_settings(mapped, loaded_on)
    if not proposal:
        return []
    again = _read(path, parse_mapping_text(proposal, "proposal"), loaded_on)
    gained = _not_read(judged) - _not_read(again[1])
    if gained <= 0:
        return []
    return [
        "",
        f"{gained} more row(s) and value(s) can be read with this mapping:",
        "",
        *proposal.splitlines(),
        "",
        _keep(path, proposal),
        "",
        "Read with this mapping:",
        *describe(*again),
    ]


def _not_read(judged: dict[str, Judged]) -> int:
    return sum(found.quarantined.height + found.set_aside.height for found in judged.values())


def _keep(path: Path, proposal: str) -> str:
    whole = Path(path).resolve()
    target = whole.with_name(f"{whole.stem}.mapping.toml")
    try:
        with target.open("x", encoding="utf-8", newline="\n") as file:
            file.write(proposal)
    except FileExistsError:
        return f"{target} is there already and was left as it is"
    except OSError:
        return f"{target} could not be written; copy the lines above into a file of your own"
    return f"written to {target}; check every line marked with a guess, then load with --mapping {target}"


def _counts(name: str, rows: pl.DataFrame, judged: Judged) -> list[str]:
    files = ", ".join(f"{file} ({count})" for file, count in rows["file"].value_counts(sort=True).sort("file").rows())
    return [
        f"{name}: {rows.height} row(s) from {files or 'no file'}",
        f"  to be loaded {judged.accepted.height}, to quarantine {judged.quarantined.height}, "
        f"values set aside {judged.set_aside.height}",
    ]


def _first_rows(name: str, judged: Judged) -> list[str]:
    lines = []
    for row in judged.accepted.head(SHOWN).iter_rows(named=True):
        completed = set((row["inferred"] or "").split(";"))
        told = [
            f"{column} {_shown(row[column])}{'*' if column in completed else ''}"
            for column in FEED[name].names
            if row[column] is not None
        ]
        lines.append(f"  row {row['row_no']}: {' | '.join(told)}")
    if any("*" in line for line in lines):
        lines.append("  (* filled in or completed, not written so in the file)")
    return lines


def _shown(value: object) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, float):
        return f"{value:.15g}"
    return str(value)


def _findings(judged: Judged) -> list[str]:
    inferred = judged.accepted["inferred"].drop_nulls().str.split(";").explode().value_counts(sort=True)
    lines = [
        f"  filled in or completed: {column}, {count} row(s)" for column, count in inferred.sort("inferred").rows()
    ]
    if "odometer" in judged.accepted.columns:
        units = (
            judged.accepted.filter(pl.col("odometer").is_not_null())["odometer_unit"]
            .value_counts()
            .sort("odometer_unit")
        )
        lines += [f"  odometer in {unit}: {count} row(s)" for unit, count in units.rows()]
    for title, found in (("set aside", judged.set_aside), ("to quarantine", judged.quarantined)):
        by_column = found.group_by("column", maintain_order=True).agg(pl.len(), pl.first("file", "row_no", "says"))
        lines += [
            f"  {title}: {count} x {column or 'row'}, first in {file}, row {row_no}: {says}"
            for column, count, file, row_no, says in by_column.rows()
        ]
    return lines
