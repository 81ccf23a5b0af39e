"""Declare a snapshot table from a few lines of text."""

from __future__ import annotations

from analytics.records.table import Column, Kind, Table


def _columns(text: str) -> tuple[Column, ...]:
    """Read columns from lines of ``name kind[!] unit | meaning``; ``!`` = never empty, ``-`` = no unit."""
    columns = []
    for line in text.strip().splitlines():
        head, meaning = line.split("|", 1)
        name, kind, unit = head.split()
        kinds: dict[str, Kind] = {
            "text": "text",
            "date": "date",
            "number": "number",
            "whole": "whole",
            "yes_no": "yes_no",
            "instant": "instant",
        }
        columns.append(
            Column(
                name,
                kinds[kind.rstrip("!")],
                meaning.strip(),
                unit="" if unit == "-" else unit,
                nullable=not kind.endswith("!"),
            )
        )
    return tuple(columns)


def declared(name: str, meaning: str, key: str, columns: str) -> Table:
    """Return a table from its key columns and lines of ``name kind[!] unit | meaning``."""
    return Table(name, meaning, tuple(key.split()), _columns(columns))
