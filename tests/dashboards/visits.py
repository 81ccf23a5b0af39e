"""Open one page as a visitor would, and read what it says."""

from __future__ import annotations

from pathlib import Path

from streamlit.testing.v1 import AppTest

APP = Path(__file__).resolve().parents[2] / "dashboards" / "app.py"
PAGES = ("in-short", "lasting", "where", "held", "look-first", "shelf", "one-car")
TOLD = ("title", "header", "subheader", "markdown", "caption", "warning", "info", "error")


def opened(page: str, **query: str) -> AppTest:
    test = AppTest.from_string(f"from dashboards.app import main\nmain({page!r})", default_timeout=60)
    for name, value in query.items():
        test.query_params[name] = value
    return test.run()


def said(test: AppTest) -> str:
    """Everything the page says, without the marks that keep names from being read as markup."""
    return (
        "\n".join(element.value for kind in TOLD for element in test.get(kind)).replace("\\", "").replace("\u00a0", " ")
    )


def drawings(test: AppTest) -> int:
    return len(test.get("vega_lite_chart")) + len(test.get("arrow_vega_lite_chart"))
