"""The workbook every test here types into."""

import pytest

from analytics.cli import main


@pytest.fixture(scope="session")
def template(tmp_path_factory):
    """The untouched workbook, as the command writes it."""
    path = tmp_path_factory.mktemp("template") / "jobs.xlsx"
    assert main(["template", "--to", str(path)]) == 0
    return path
