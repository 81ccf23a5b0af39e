"""Published cases: typed into tests/reference, or read from the shared folder where they must not be committed."""

import json
import tomllib
from pathlib import Path

import polars as pl
import pytest

ROOT = Path(__file__).resolve().parents[2]
SHARED = ROOT.parent / "shared"


def typed(name):
    """Cases of tests/reference/NAME.toml."""
    return tomllib.loads((ROOT / "tests" / "reference" / f"{name}.toml").read_text(encoding="utf-8"))


def shared_case(name):
    """Expected values and table of a case that is not ours to publish; skips where the folder is absent."""
    folder = SHARED / "references"
    if not (folder / f"{name}.json").is_file():
        pytest.skip(f"case {name} lies in ../shared/references, which is absent")
    expected = json.loads((folder / f"{name}.json").read_text(encoding="utf-8"))["expected"]
    return {key: entry["value"] for key, entry in expected.items()}, pl.read_csv(folder / f"{name}.csv")


def spells(**columns):
    """A frame of spells: exit is needed; entry is 0 and event 1 unless said."""
    given = {"entry": 0, "event": 1} | columns
    length = max(len(value) for value in given.values() if isinstance(value, list))
    return pl.DataFrame({key: value if isinstance(value, list) else [value] * length for key, value in given.items()})


def chained(rows, unit, day, count):
    """Spells of units that fail again and again: failures of one day together, each row from the last one on."""
    return (
        rows.group_by(unit, day)
        .agg(event=pl.col(count).sum())
        .sort(unit, day)
        .with_columns(entry=pl.col(day).shift(1, fill_value=0).over(unit))
        .rename({day: "exit"})
        .filter(pl.col("exit") > pl.col("entry"))
    )
