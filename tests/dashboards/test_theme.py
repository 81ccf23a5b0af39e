"""The palette: one list of roles, readable in both modes, told apart by people who see fewer colours."""

import itertools
import re
import struct

import numpy as np
import pytest
from streamlit import config

from dashboards import theme
from dashboards.charts.sheet import ROLES

MODES = ("light", "dark")
CATEGORIES = ("petrol", "oxide", "ochre", "plum", "moss", "sky")
SEEN = {  # Machado, Oliveira and Fernandes (2009), IEEE TVCG 15(6), table 1, severity 1.0
    "all colours": np.eye(3),
    "no red": [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]],
    "no green": [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]],
    "no blue": [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]],
}
CONES = [[0.4122214708, 0.5363325363, 0.0514459929], [0.2119034982, 0.6806995451, 0.1073969566]]
CONES += [[0.0883024619, 0.2817188376, 0.6299787005]]
LAB = [[0.2104542553, 0.7936177850, -0.0040720468], [1.9779984951, -2.4285922050, 0.4505937099]]
LAB += [[0.0259040371, 0.7827717662, -0.8086757660]]
"""OKLab, Ottosson (2020), bottosson.github.io/posts/oklab: linear RGB to cones, cones to L, a, b."""


def linear(value):
    parts = np.array([int(value[i : i + 2], 16) for i in (1, 3, 5)]) / 255
    return np.where(parts <= 0.04045, parts / 12.92, ((parts + 0.055) / 1.055) ** 2.4)


def contrast(a, b):
    """WCAG 2.2, relative luminance and contrast ratio."""
    dark, light = sorted(linear(x) @ [0.2126, 0.7152, 0.0722] for x in (a, b))
    return (light + 0.05) / (dark + 0.05)


def distance(a, b, seen):
    labs = [
        np.array(LAB) @ np.cbrt(np.clip(np.array(CONES) @ np.clip(seen @ linear(x), 0, 1), 0, None)) for x in (a, b)
    ]
    return 100 * np.linalg.norm(labs[0] - labs[1])


def test_black_on_white_has_the_greatest_contrast_there_is():
    assert contrast("#000000", "#FFFFFF") == pytest.approx(21.0)


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("role", CATEGORIES)
def test_marks_stand_out_from_the_paper(mode, role):
    """WCAG 2.2, 1.4.11: graphical objects 3:1."""
    values = theme.palette(mode)
    assert contrast(values[role], values["paper"]) >= 3.15


@pytest.mark.parametrize("mode", MODES)
@pytest.mark.parametrize("role", ["ink", "pencil"])
def test_text_can_be_read_on_paper_and_on_panels(mode, role):
    """WCAG 2.2, 1.4.3: text 4.5:1."""
    panel = theme.options()[f"theme.{mode}.secondaryBackgroundColor"]
    values = theme.palette(mode)
    assert contrast(values[role], values["paper"]) >= 4.5
    assert contrast(values[role], panel) >= 4.5


@pytest.mark.parametrize("seen", SEEN)
@pytest.mark.parametrize("mode", MODES)
def test_colours_are_told_apart_by_people_who_see_fewer(mode, seen):
    values = theme.palette(mode)
    pairs = itertools.combinations(CATEGORIES, 2)
    assert min(distance(values[a], values[b], np.array(SEEN[seen])) for a, b in pairs) >= 7.0


@pytest.mark.parametrize("kind", ["chartCategoricalColors", "chartSequentialColors", "chartDivergingColors"])
def test_both_modes_hold_ten_colours_of_every_kind(kind):
    lists = [theme.options()[f"theme.{mode}.{kind}"] for mode in MODES]
    assert [len(values) for values in lists] == [10, 10]
    assert all(re.fullmatch(r"#[0-9A-F]{6}", value) for values in lists for value in values)


@pytest.mark.parametrize("mode", MODES)
def test_page_text_and_paper_are_the_charts_ink_and_paper(mode):
    values, said = theme.palette(mode), theme.options()
    assert list(values) == list(ROLES)
    assert said[f"theme.{mode}.textColor"] == values["ink"]
    assert said[f"theme.{mode}.backgroundColor"] == values["paper"]
    assert said[f"theme.{mode}.primaryColor"] == values["petrol"]
    assert said[f"theme.{mode}.yellowColor"] == values["ochre"]


def test_the_server_knows_every_setting():
    assert set(theme.options()) <= set(config._config_options_template)


def test_nothing_is_told_to_anyone_and_no_detail_of_an_error_is_shown():
    said = theme.options()
    assert said["browser.gatherUsageStats"] is False
    assert said["client.showErrorDetails"] == "none"
    assert said["server.address"] == "127.0.0.1"


def test_style_and_settings_name_no_address_to_fetch_from():
    assert "http" not in theme.STYLE + theme.CONFIG.read_text(encoding="utf-8")


def test_the_icon_is_a_small_picture_of_our_own():
    data = theme.MARK.read_bytes()
    assert data[:8] == b"\x89PNG\r\n\x1a\n"
    assert struct.unpack(">II", data[16:24]) == (64, 64)
    assert len(data) < 5000
