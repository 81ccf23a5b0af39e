"""Small frames in the shape the charts take."""

from __future__ import annotations

from datetime import date

import polars as pl

from dashboards.charts.compare import Line
from dashboards.charts.life import Life

TIMES = [0.0, 2.0, 4.0, 6.0, 8.0, 10.0]
LAW = pl.DataFrame(
    {
        "time": TIMES,
        "survival": [1.0, 0.95, 0.8, 0.6, 0.4, 0.25],
        "lower": [1.0, 0.9, 0.7, 0.45, 0.2, 0.1],
        "upper": [1.0, 0.99, 0.9, 0.75, 0.6, 0.45],
    }
)
STEPS = pl.DataFrame({"time": [0.0, 3.0, 5.0, 9.0], "survival": [1.0, 0.9, 0.7, 0.3], "at_risk": [20, 18, 11, 3]})
FAILURES = pl.DataFrame({"time": [3.0, 5.0, 9.0], "record_id": ["R1", "R2", "R3"]})
LIFE = Life(LAW, STEPS, FAILURES)
BARE = Life(LAW.with_columns(survival=pl.lit(None, dtype=pl.Float64)), STEPS.head(0), FAILURES.head(0))
OLD, NEW = Line('it\'s "old"', LAW), Line("new", LAW.with_columns(survival=pl.col("survival") ** 0.3))

PLACES = pl.DataFrame(
    {
        "location": ["rear", "front", "boot's floor"],
        "label": ["rear arch", "front arch", "boot's floor"],
        "x": [0.14, 0.86, 0.5],
        "y": [0.76, 0.17, 0.9],
        "deck": ["below", "below", "above"],
        "observed": [14, 5, 0],
        "expected": [4.3, 4.1, 0.6],
        "least": [8.5, 2.0, 0.0],
        "greatest": [21.0, 10.5, 3.0],
        "vehicles": [11, 4, 0],
        "few": [False, True, False],
        "shown": [2.5, 1.1, 0.9],
        "shown_lower": [1.5, 0.5, 0.2],
        "shown_upper": [4.1, 2.0, 9.5],
        "sure": [True, False, False],
    }
)
HELD = pl.DataFrame(
    {
        "repair": ["motor's, overhauled", "motor, exchanged", "valve, resealed", "lamp, replaced", "horn, adjusted"],
        "repairs": [43, 51, 9, 30, 1],
        "returns": [6, 2, 1, 1, 0],
        "shown": [14.0, 3.9, 11.1, 3.3, 0.0],
        "shown_lower": [6.2, 0.7, 0.6, 0.2, 0.0],
        "shown_upper": [25.8, 11.8, 42.9, 14.9, 95.0],
        "chance": [2.1, 2.0, 1.4, None, 8.0],
        "chance_least": [0.0, 0.0, 0.0, None, 0.0],
        "chance_most": [4.7, 5.9, 11.1, None, 30.0],
        "thin": [False, False, True, False, True],
        "sure": [True, False, False, False, False],
    }
)
SLOTS = pl.DataFrame(
    {
        "level": ["screen"] * 3 + ["foot"] * 2,
        "label": ["screen"] * 3 + ["foot"] * 2,
        "time": [30.0, 33.0, 38.0, 31.0, 37.0],
        "mcf": [0.5, 1.5, 3.0, 0.4, 0.9],
        "lower": [0.1, 0.8, None, 0.1, 0.4],
        "upper": [1.5, 2.9, None, 1.2, 2.0],
        "failures": [3, 3, 3, 2, 2],
        "few": [False] * 3 + [True] * 2,
    }
)
NEED = pl.DataFrame({"need": [1, 3, 3, 4, 4, 5, 5, 6, 6, 7, 7, 7, 8, 8, 9, 9, 10, 11, 13, 15]})
PARTS = pl.DataFrame(
    {
        "lane": ["battery\tonly", "battery\tonly", "coil\tonly"],
        "label": ["battery", "battery", "coil"],
        "start": [None, date(2016, 2, 1), None],
        "end": [date(2016, 2, 1), date(2024, 5, 1), date(2024, 5, 1)],
        "fitted_still": [False, True, True],
    }
)
KINDS = ["failed", "changed in passing", "planned", "checked, good", "no fault found"]
EVENTS = pl.DataFrame(
    {
        "lane": ["battery\tonly"] * 5,
        "on": [date(2016 + k, 2, 1) for k in range(5)],
        "kind": KINDS,
        "record_id": [f"R{k}" for k in range(5)],
    }
)
VISITS = pl.DataFrame({"on": [date(2014, 2, 1), date(2016, 2, 1)]})
