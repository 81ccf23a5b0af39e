"""A snapshot that is damaged, or that an older version wrote: every page says so, and what to run."""

import shutil

import duckdb
import pytest

from analytics.snapshot import TABLES, latest_path
from tests.dashboards.visits import PAGES, opened, said


def zeros(path):
    content = path.read_bytes()
    path.write_bytes(content[: len(content) // 4] + bytes(len(content) * 3 // 4))


def cut_short(path):
    path.write_bytes(path.read_bytes()[:5000])


def all_but_its_description_gone(path):
    with duckdb.connect(str(path)) as connection:
        for name in TABLES:
            if name != "meta":
                connection.execute(f"drop table {name}")


@pytest.mark.parametrize("page", PAGES)
@pytest.mark.parametrize("damage", [zeros, cut_short, all_but_its_description_gone], ids=lambda each: each.__name__)
def test_a_page_says_that_the_snapshot_is_damaged_and_what_to_run(page, damage, folders, tmp_path, monkeypatch):
    data = shutil.copytree(folders["rich"], tmp_path / "data")
    damage(latest_path(data))
    monkeypatch.setenv("WEARLEDGER_DATA", str(data))
    test = opened(page)
    assert not test.exception
    why = "another version of the program wrote it" if damage is all_but_its_description_gone else "it is damaged"
    assert f"cannot be read: {why}" in said(test)
    assert "Next: run: wearledger analyse" in said(test)
