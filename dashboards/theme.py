"""Our look and server settings, from the one file that holds them."""

from __future__ import annotations

import tomllib
from pathlib import Path
from typing import Any, Literal

from dashboards.charts.sheet import ROLES

HERE = Path(__file__).resolve().parent
CONFIG = HERE / ".streamlit" / "config.toml"
MARK = HERE / "mark.png"
"""The page's icon: our own shape, served from this computer."""

STYLE = """<style>
h1 {padding-top: 0 !important}
[class*="st-key-answer"] h3 {font-size: 1.45rem; font-weight: 500; line-height: 1.3; padding: .1rem 0 1rem;
  max-width: 62ch; text-wrap: balance}
[class*="st-key-answer"] p {max-width: 95ch}
[data-testid="stCaptionContainer"] {color: inherit; opacity: .82}
[class*="st-key-blank"] {border: 2px dashed color-mix(in srgb, currentColor 45%, transparent); border-radius: .4rem;
  padding: .8rem 1rem; margin-top: .5rem}
[data-testid="stButtonGroup"] button {min-height: 2.5rem}
[data-testid="stMainBlockContainer"] {max-width: 1240px; margin: 0 auto}
@media (max-width: 640px) {
  [class*="st-key-answer"] h3 {font-size: 1.25rem}
  h1 {font-size: 1.5rem !important} h2 {font-size: 1.35rem !important}
}
@media print {
  header, [data-testid="stToolbar"], [data-testid="stSelectbox"], [data-testid="stButtonGroup"],
  [data-testid="stSlider"], [data-testid="stElementToolbar"], [data-testid="stPageLink"],
  [data-testid="stDownloadButton"] {display: none !important}
  [data-testid="stMainBlockContainer"] {padding: 0 !important; max-width: none}
  [data-testid="stVegaLiteChart"], [class*="st-key-answer"], [class*="st-key-row"] {break-inside: avoid}
  h1, h2, h3 {break-after: avoid}
}
@page {size: A4; margin: 16mm}
</style>"""
"""The few rules the theme file cannot hold: line length, the blank box, narrow screens, printing."""


def options() -> dict[str, Any]:
    """Return every setting by its dotted name, as the server takes them.

    Returns
    -------
    dict[str, Any]
        For instance ``{"theme.light.textColor": "...", "browser.gatherUsageStats": False}``.
    """
    flat: dict[str, Any] = {}

    def walk(prefix: str, branch: dict[str, Any]) -> None:
        for name, value in branch.items():
            if isinstance(value, dict):
                walk(f"{prefix}{name}.", value)
            else:
                flat[f"{prefix}{name}"] = value

    walk("", tomllib.loads(CONFIG.read_text(encoding="utf-8")))
    return flat


def palette(mode: Literal["light", "dark"]) -> dict[str, str]:
    """Return the hex value of every role, for reports that draw without a browser theme."""
    values: list[str] = options()[f"theme.{mode}.chartCategoricalColors"]
    return dict(zip(ROLES, values, strict=True))
