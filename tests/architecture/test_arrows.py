"""The arrows between packages. Change the table in DEVELOPERS.md and ALLOWED together."""

import ast
import re
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
LEAVES = {"cells", "counting", "errors", "scales", "parameters", "safety", "serials", "fitting", "finding"}

# package: (our packages it may import besides the leaves, outside libraries it may import)
ALLOWED = {
    "analytics.cells": (set(), {"polars"}),
    "analytics.counting": (set(), set()),
    "analytics.errors": (set(), set()),
    "analytics.scales": (set(), set()),
    "analytics.parameters": (set(), set()),
    "analytics.safety": (set(), set()),
    "analytics.serials": (set(), set()),
    "analytics.finding": (set(), {"polars"}),
    "analytics.fitting": (set(), {"polars"}),
    "analytics.records": (set(), {"polars", "duckdb", "fastexcel", "numpy"}),
    "analytics.ledger": ({"records"}, {"polars", "duckdb", "xlsxwriter"}),
    "analytics.spells": ({"ledger"}, {"polars", "duckdb", "numpy"}),
    "analytics.estimators": (set(), {"polars", "numpy", "scipy"}),
    "analytics.recurrence": ({"estimators"}, {"polars", "numpy", "scipy"}),
    "analytics.stock": ({"estimators"}, {"polars", "numpy", "scipy"}),
    "analytics.snapshot": ({"records"}, {"polars", "duckdb"}),
    "analytics.template": ({"records"}, {"xlsxwriter"}),
    "analytics.order_list": ({"snapshot"}, {"polars"}),
    "analytics.order_file": ({"order_list", "cells"}, {"polars", "xlsxwriter"}),
    "dashboards.charts": (set(), {"polars", "altair"}),
    "dashboards": (
        {"snapshot", "order_list", "order_file"},
        {"polars", "altair", "streamlit", "duckdb", "pandas", "pyarrow", "numpy", "uvicorn"},
    ),
    "sample_data": ({"records"}, {"polars", "numpy"}),
}
SHELL = {"analytics": {"polars", "duckdb", "platformdirs"}}
"""Modules directly in ``analytics``: the shell, which may import all of ours."""

OUTSIDE = {
    "altair",
    "duckdb",
    "fastexcel",
    "numpy",
    "pandas",
    "platformdirs",
    "polars",
    "pyarrow",
    "scipy",
    "streamlit",
    "starlette",
    "uvicorn",
    "xlsxwriter",
}
MODULES = sorted(path for top in ("analytics", "dashboards", "sample_data") for path in (ROOT / top).rglob("*.py"))
PACKAGES = [p for p in ALLOWED if p.startswith("analytics.")]


def package_of(path):
    parts = path.relative_to(ROOT).with_suffix("").parts
    two = ".".join(parts[:2])
    return two if two in ALLOWED else parts[0]


def imports(path):
    """Names imported anywhere in the file, also inside functions."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path}: write absolute imports"
            yield node.module


@pytest.mark.parametrize("path", MODULES, ids=lambda p: str(p.relative_to(ROOT)))
def test_arrows_point_down(path):
    package = package_of(path)
    shell = package == "analytics"
    ours, outside = ({p.split(".")[1] for p in PACKAGES}, SHELL["analytics"]) if shell else ALLOWED[package]
    for name in imports(path):
        top, *rest = name.split(".")
        if top == "analytics" and not shell:
            inside = package.startswith("analytics") and rest[:1] == package.split(".")[1:2]
            leaf = bool(rest) and rest[0] in LEAVES and not package.endswith(("errors", "scales"))
            assert inside or leaf or (rest and rest[0] in ours), f"{package} must not import {name}"
        elif top == "dashboards" and package != "dashboards":
            allowed = package == "dashboards.charts" or (shell and path.name == "commands.py")
            assert allowed, f"{package} must not import {name}"
        elif top == "sample_data" and package != "sample_data":
            assert shell, f"{package} must not import {name}"
        elif top in OUTSIDE:
            assert top in outside, f"{package} must not import {name}"
        else:
            known = top in sys.stdlib_module_names or top in {"analytics", "dashboards", "sample_data"}
            assert known, f"{package} imports {name}, which no table here names"


def test_dashboards_read_snapshots_only():
    for path in (ROOT / "dashboards").rglob("*.py"):
        for name in imports(path):
            if name.startswith("analytics.") and not name.startswith(("analytics.snapshot", "analytics.order_")):
                assert name.split(".")[1] in LEAVES, f"{path.name} imports {name}"


def test_charts_know_no_streamlit_and_pages_no_sql():
    for path in (ROOT / "dashboards" / "charts").rglob("*.py"):
        assert "streamlit" not in " ".join(imports(path)), path.name
    for path in (ROOT / "dashboards" / "questions").rglob("*.py"):
        assert not re.search(r"\bselect\b.+\bfrom\b", path.read_text(encoding="utf-8"), re.I), path.name
