"""Which slots and series fail more often, in words."""

import polars as pl
import pytest

from dashboards.answers import slots
from tests.dashboards.snapshot_rows import frame

PAIR = {"component": "hose", "grouping": "position", "level_a": "left", "level_b": "right", "status": "ok"}
COUNTS = {"failures_a": 9, "failures_b": 21, "comparisons": 137}
RATIO = {"rate_ratio": 2.33, "lower": 1.2, "upper": 4.7, "p_value": 0.001, "adjusted_p": 0.03}


def pairs(*rows):
    return frame("interval_comparison", [{**PAIR, **COUNTS, **RATIO, **row} for row in rows])


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        (
            {},
            "Right fails 2.3 times as often as left (could be 1.2 to 4.7; 21 and 9 failures), "
            "after allowing for 137 comparisons.",
        ),
        (
            {"grouping": "series", "level_a": "S1", "level_b": "S2", "rate_ratio": 0.5, "lower": 0.25, "upper": 0.8},
            "S1 fails 2.0 times as often as S2 at the same age of the car (could be 1.2 to 4.0; 9 and 21 failures), "
            "after allowing for 137 comparisons.",
        ),
        (
            {"failures_a": 0, "rate_ratio": None, "lower": 3.1, "upper": None, "status": "upper open"},
            "Right fails at least 3.1 times as often as left (21 and 0 failures), after allowing for 137 comparisons.",
        ),
        (
            {"failures_b": 0, "rate_ratio": 0.0, "lower": 0.0, "upper": 0.4, "status": "bound only"},
            "Left fails at least 2.5 times as often as right (9 and 0 failures), after allowing for 137 comparisons.",
        ),
        (
            {"grouping": "series", "level_a": "9", "level_b": "4", "failures_a": 0, "rate_ratio": None, "lower": 0.95}
            | {"upper": None, "status": "upper open"},
            "Series 4 fails more often than series 9 at the same age of the car (21 and 0 failures), "
            "after allowing for 137 comparisons.",
        ),
        (
            {"lower": 0.9},
            "Right fails more often than left (could be 0.90 to 4.7 times as often; 21 and 9 failures), "
            "after allowing for 137 comparisons.",
        ),
    ],
)
def test_the_more_frequent_one_is_said_first_with_its_limits(row, sentence):
    assert slots.more_often(pairs(row).row(0, named=True)) == sentence


def test_pairs_that_chance_could_make_are_only_counted():
    said = slots.differing(pairs({}, {"level_b": "upper", "adjusted_p": 0.4}, {"level_b": "x", "adjusted_p": 0.9}))
    assert [text[:9] for text in said] == ["Right fai", "Two more "]
    alone = pairs({"adjusted_p": 0.4}, {"level_b": "x", "p_value": None, "adjusted_p": None})
    assert slots.differing(alone) == [
        "One pair of slots or series compared: no difference beyond chance. Chance is judged by whole cars."
    ]
    (series,) = slots.differing(alone.with_columns(grouping=pl.lit("series")))
    assert "compared, series at one age of their cars: no difference" in series
    assert series.endswith("The rates of series above are of the ages their cars had.")
    assert slots.differing(pl.DataFrame(schema=alone.schema)) == []
