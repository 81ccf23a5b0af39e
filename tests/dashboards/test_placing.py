"""Names on a plan cover no mark and no other name."""

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from dashboards.placing import LETTER, LINE, NAME_LIMIT, Sheet, placed

SHEET = Sheet(wide=280, high=590, left=0.0, right=1.0, top=0.0, bottom=1.0)
AT = st.tuples(st.floats(0.03, 0.97), st.floats(0.03, 0.97), st.floats(4, 30))


def marks(places):
    names = [f"place {k}" for k in range(len(places))]
    rows = {"location": names, "label": names, **dict(zip("xy", list(zip(*places, strict=True))[:2], strict=True))}
    return pl.DataFrame({**rows, "radius": [float(place[2]) for place in places]})


def boxes(named):
    for row in named.iter_rows(named=True):
        middle = np.array([row["name_x"] * SHEET.wide, row["name_y"] * SHEET.high])
        half = np.array([min(NAME_LIMIT, LETTER * len(row["label"])) / 2, LINE / 2])
        yield middle - half, middle + half


@settings(max_examples=30)
@given(st.lists(AT, min_size=1, max_size=40))
def test_a_name_covers_no_mark_no_name_and_stays_on_the_sheet(places):
    every = marks(places)
    found = list(boxes(placed(every.head(3), every, SHEET)))
    for low, high in found:
        assert (low >= -1e-6).all()
        assert (high <= np.array([SHEET.wide, SHEET.high]) + 1e-6).all()
        for x, y, radius in places:
            middle = np.array([x * SHEET.wide, y * SHEET.high])
            assert np.hypot(*(np.clip(middle, low, high) - middle)) > radius
    for k, (low, high) in enumerate(found):
        assert not any(((low < b) & (high > a)).all() for a, b in found[:k])


def test_a_name_with_room_beside_its_mark_touches_it_and_has_no_line():
    named = placed(marks([(0.5, 0.5, 20)]), marks([(0.5, 0.5, 20)]), SHEET)
    assert named["off"].to_list() == [False]
    assert abs(named["name_y"][0] - 0.5) * SHEET.high < 20 + LINE


def test_a_name_without_room_stands_off_with_a_line_from_the_edge_of_its_mark():
    ring = [(0.5 + 0.16 * np.cos(a), 0.5 + 0.076 * np.sin(a), 18) for a in np.linspace(0, 2 * np.pi, 13)]
    every = marks([(0.5, 0.5, 15), *ring])
    row = placed(every.head(1), every, SHEET).row(0, named=True)
    assert row["off"]
    start = np.array([(row["line_x"] - 0.5) * SHEET.wide, (row["line_y"] - 0.5) * SHEET.high])
    assert np.hypot(*start) == pytest.approx(15)


def test_a_sheet_full_of_marks_carries_no_name():
    full = marks([(x, y, 30) for x in np.linspace(0, 1, 12) for y in np.linspace(0, 1, 24)])
    assert placed(full.head(3), full, SHEET).is_empty()
