"""Files stay small enough to be read, and the top level holds only what it should."""

import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
SOURCES = sorted(
    path for top in ("analytics", "dashboards", "sample_data", "tests") for path in (ROOT / top).rglob("*.py")
)
PAGES = sorted((ROOT / "dashboards" / "questions").glob("*.py"))
QUERIES = sorted(ROOT.glob("analytics/**/*.sql"))
TOP = {"README.md", "DEVELOPERS.md", "CHANGELOG.md", "LICENSE", "pyproject.toml"}
TOP |= {"requirements.txt", "requirements-test.txt"}
TOP |= {"analytics", "dashboards", "sample_data", "tests"}


@pytest.mark.parametrize("path", SOURCES, ids=lambda p: str(p.relative_to(ROOT)))
def test_modules_stay_within_300_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 300, "split the module by responsibility"


@pytest.mark.parametrize("path", PAGES, ids=lambda p: p.name)
def test_pages_stay_within_60_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 60, "move sentences and charts out of the page"


@pytest.mark.parametrize("path", QUERIES, ids=lambda p: str(p.relative_to(ROOT)))
def test_queries_stay_within_100_lines(path):
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 100, "make a second result"


def test_no_module_is_a_drawer_for_anything():
    drawers = {"utils", "util", "helpers", "helper", "common", "base", "manager", "misc"}
    assert not [path for path in SOURCES if path.stem in drawers]


def test_the_top_level_holds_only_what_it_should():
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=False)
    if listed.returncode:
        pytest.skip("not a git checkout")
    top = {line.split("/")[0] for line in listed.stdout.splitlines()}
    assert not {name for name in top if not name.startswith(".")} - TOP
