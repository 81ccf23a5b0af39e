"""Words: what the project calls things, and what it never holds."""

import re
import subprocess
from pathlib import Path

import pytest

from analytics.records.feed import FEED
from analytics.snapshot.tables import TABLES

ROOT = Path(__file__).resolve().parents[2]
NEVER = {
    "generation",
    "asset",
    "ticket",
    "item",
    "subject",
    "duration",
    "lifetime",
    "tenure",
    "hazard",
    "censored_flag",
    "utils",
}
COLUMNS = sorted({c.name for table in (*FEED.values(), *TABLES.values()) for c in table.columns})


def tracked():
    listed = subprocess.run(["git", "ls-files", "-z"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    return [ROOT / name for name in listed.stdout.split("\0") if name and (ROOT / name).is_file()]


@pytest.mark.parametrize("name", COLUMNS)
def test_column_names_follow_the_glossary(name):
    assert not NEVER & set(name.split("_"))
    assert re.fullmatch(r"[a-z][a-z0-9_]*", name)


def test_every_declared_table_tells_the_meaning_of_its_columns():
    for table in (*FEED.values(), *TABLES.values()):
        assert table.meaning
        assert set(table.key) <= set(table.names)
        for column in table.columns:
            assert len(column.meaning) > 2, f"{table.name}.{column.name}"


def test_no_path_of_a_machine_and_no_registry_is_committed():
    path = re.compile(r"(^|[^A-Za-z0-9_.])/(work|farm|root|home)/")
    host = re.compile(r"(files\.pythonhosted|pypi\.org/simple|registry\.npmjs|deb\.debian)")
    for file in tracked():
        if file.suffix in {".py", ".md", ".toml", ".sql", ".txt", ".csv", ".json"} or not file.suffix:
            if file == Path(__file__).resolve():
                continue
            text = file.read_text(encoding="utf-8", errors="replace")
            assert not path.search(text), file
            assert not host.search(text), file
