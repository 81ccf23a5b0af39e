"""The first step: one command shows what the pages can say about a workshop of fourteen years."""

import pytest

from analytics import commands
from analytics.cli import main
from sample_data.twenty import write_twenty
from tests.conftest import LOADED_ON
from tests.dashboards.visits import PAGES, opened, said


def test_the_command_loads_analyses_and_says_how_to_look(tmp_path, monkeypatch, capsys):
    # three cars in place of four hundred: the pages of the whole demo are read below
    monkeypatch.setattr("sample_data.generate.generate", write_twenty)
    monkeypatch.setattr(commands, "_today", lambda: LOADED_ON)
    assert main(["demo", "--no-dashboard", "--data", str(tmp_path)]) == 0
    told = capsys.readouterr()
    assert "load 1; 23 rows read: 23 new" in told.out
    assert "snapshot 2026-10-12-" in told.out
    assert f"to look at it: wearledger dashboard --data {tmp_path}" in told.out
    assert "inventing 14 years of repairs" in told.err


@pytest.mark.parametrize("page", PAGES)
def test_every_page_answers_from_the_demo(page, demo_dir, monkeypatch):
    monkeypatch.setenv("WEARLEDGER_DATA", str(demo_dir))
    test = opened(page)
    assert not test.exception
    assert "Nothing stands out" not in said(test)
    assert "Too little to say." not in said(test)
