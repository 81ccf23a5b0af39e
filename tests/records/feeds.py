"""Small feeds on disk and small mapped tables, from rows with defaults."""

from __future__ import annotations

import textwrap
from datetime import date
from pathlib import Path

import polars as pl
import pytest

from analytics.records import Judged, MappedFeed, judge, map_feed, parse_mapping
from analytics.records.feed import FEED

LOADED_ON = date(2026, 11, 24)
OPEN_DATA = Path(__file__).resolve().parents[2] / ".." / "shared" / "open_data"
MAPPINGS = Path(__file__).resolve().parents[2] / "sample_data" / "mappings"
MINIMAL = {
    "vehicles": {"vehicle_id": "car1", "series": "S1"},
    "repairs": {"record_id": "J1", "vehicle_id": "car1", "closed_on": "2024-05-02"},
    "readings": {"vehicle_id": "car1", "read_on": "2024-05-02", "odometer": "1200", "odometer_unit": "km"},
    "components": {"component": "hose", "system": "cooling"},
    "locations": {"location": "bay"},
    "parts": {"part_no": "P1", "component": "hose"},
    "stock": {"part_no": "P1", "counted_on": "2024-05-02", "on_hand": "3"},
    "sales": {"part_no": "P1", "sold_on": "2024-05-02", "quantity": "1"},
    "fitted": {"vehicle_id": "car1", "component": "hose", "fitted_from": "1999-03-04"},
    "limits": {"component": "hose", "measured_unit": "mm"},
    "opinions": {
        **{"component": "hose", "first_years": "5", "first_good": "9", "second_years": "10"},
        **{"second_good": "4", "cars": "3"},
    },
}
"""For every native table the least a row needs."""


def feed(folder: Path, **files: str) -> Path:
    """Write CSV files named after the keywords; indentation and the first blank line are taken off."""
    for name, text in files.items():
        (folder / f"{name}.csv").write_text(textwrap.dedent(text).lstrip("\n"), encoding="utf-8")
    return folder


def mapping(folder: Path, text: str) -> Path:
    """Write a mapping beside the feed; `source` is filled in unless the text states it."""
    text = textwrap.dedent(text)
    path = folder / "mapping.toml"
    path.write_text(text if "source" in text else f'source = "shop"\n{text}', encoding="utf-8")
    return path


def mapped(folder: Path, text: str) -> MappedFeed:
    return map_feed(folder, parse_mapping(mapping(folder, text)))


def rows(frame: pl.DataFrame, *columns: str) -> list[tuple[object, ...]]:
    return frame.select(columns).rows()


def text_table(name: str, *lines: dict[str, str | None]) -> pl.DataFrame:
    """Return mapped rows of a native table, the least each needs filled in unless it is stated (None = empty)."""
    full = [{**MINIMAL[name], **line, "file": "typed.csv"} for line in lines]
    columns = [column for column in (*FEED[name].names, "file") if any(column in line for line in full)]
    filled = [{column: line.get(column) for column in columns} for line in full]
    frame = pl.DataFrame(filled, schema=dict.fromkeys(columns, pl.String))
    return frame.with_columns(row_no=pl.int_range(1, len(lines) + 1, dtype=pl.Int64))


def judged(name: str, *lines: dict[str, str | None], **settings: str | int | float) -> Judged:
    return judge(name, text_table(name, *lines), loaded_on=LOADED_ON, settings=settings)


def accepted(name: str, **values: str | None) -> dict[str, object]:
    found = judged(name, values)
    assert found.quarantined.is_empty(), found.quarantined["says"].to_list()
    return found.accepted.row(0, named=True)


def set_aside(name: str, **values: str | None) -> tuple[object, str, str]:
    """Return what is left of the value, the value as written and the sentence; the row must stay."""
    found = judged(name, values)
    assert found.quarantined.is_empty(), found.quarantined["says"].to_list()
    aside = found.set_aside.row(0, named=True)
    assert found.set_aside.height == 1
    return found.accepted[aside["column"]][0], aside["value"], aside["says"]


def quarantined(name: str, **values: str | None) -> dict[str, object]:
    found = judged(name, values)
    assert found.accepted.is_empty()
    assert found.set_aside.is_empty()
    return found.quarantined.row(0, named=True)


def open_data(name: str) -> Path:
    """Return a folder of the open data, or skip the test where it is absent."""
    folder = OPEN_DATA / name
    if not folder.is_dir():
        pytest.skip(f"open data are not shipped: {folder.name} is not there")
    return folder
