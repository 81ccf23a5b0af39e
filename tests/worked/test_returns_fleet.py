"""Four cars and their window motors, by hand: what was watched, what came back, and what is not counted.

Analysed as of 30 June 2020; a window is 90 days and 1,500 km.

| car | day in | day out | km | motor | done | origin | then |
|---|---|---|---|---|---|---|---|
| A | 2018-03-01 | 2018-03-03 | 50,000 | left | overhauled | | left failed on 2018-04-02, 30 days and 400 km later |
| A | 2018-04-02 | 2018-04-02 | 50,400 | left | exchanged | overhauled | right failed on 2018-05-02: another one |
| A | 2018-05-02 | 2018-05-02 | 50,900 | right | exchanged | new | left failed on 2018-08-01, after 91 days |
| A | 2018-08-01 | 2018-08-01 | 52,000 | left | exchanged | new | quiet |
| B | 2019-01-10 | 2019-01-10 | 90,000 | left | overhauled | | failed on 2019-03-01, after 50 days but 3,000 km |
| B | 2019-03-01 | 2019-03-01 | 93,000 | left | overhauled | | quiet, and B left on 2019-05-30, its 90th day |
| C | 2020-05-01 | 2020-05-01 | 20,000 | | overhauled | | failed on 2020-05-20: its window is still open |
| C | 2020-05-20 | 2020-05-20 | 20,100 | left | inspected | | nothing was done |
| D | 2017-01-01 | 2017-01-01 | | right | exchanged | used | failed on 2017-02-01; D left on 2017-03-01 |
| D | 2017-02-01 | 2017-02-01 | | right | adjusted | | D left 28 days later |
"""

from datetime import date

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.recurrence.returns import repeat_repairs
from analytics.spells.exposure import build_exposure
from tests.fleet import ledger_of

LINES = [
    ("A", "2018-03-01", "2018-03-03", 50_000, "left", "overhauled", None),
    ("A", "2018-04-02", "2018-04-02", 50_400, "left", "exchanged", "overhauled"),
    ("A", "2018-05-02", "2018-05-02", 50_900, "right", "exchanged", "new"),
    ("A", "2018-08-01", "2018-08-01", 52_000, "left", "exchanged", "new"),
    ("B", "2019-01-10", "2019-01-10", 90_000, "left", "overhauled", None),
    ("B", "2019-03-01", "2019-03-01", 93_000, "left", "overhauled", None),
    ("C", "2020-05-01", "2020-05-01", 20_000, None, "overhauled", None),
    ("C", "2020-05-20", "2020-05-20", 20_100, "left", "inspected", None),
    ("D", "2017-01-01", "2017-01-01", None, "right", "exchanged", "used"),
    ("D", "2017-02-01", "2017-02-01", None, "right", "adjusted", None),
]
COLUMNS = ("vehicle_id", "opened_on", "closed_on", "odometer", "position", "action", "part_origin")


@pytest.fixture(scope="module")
def found():
    cars = [{"vehicle_id": car, "series": "S1", "built_on": "1985-01-01"} for car in "ABCD"]
    cars[1]["left_on"], cars[3]["left_on"] = "2019-05-30", "2017-03-01"
    motor = {"component": "window motor", "reason": "failure"}
    ledger = ledger_of(
        vehicles=cars,
        repairs=[{**dict(zip(COLUMNS, line, strict=True)), **motor} for line in LINES],
        components=[{"component": "window motor", "position": side, "system": "doors"} for side in ("left", "right")],
    )
    exposure = build_exposure(ledger, date(2020, 6, 30), Parameters())
    facts = pl.DataFrame({"component": ["window motor"], "family": [None]}, schema_overrides={"family": pl.String})
    return repeat_repairs(exposure.repaired, exposure.spell, facts, Parameters())


def test_rule_37_repairs_and_returns_by_hand(found):
    told = {
        (row["action"], row["part_origin"]): (row["repairs"], row["returns"], row["repairs_open"], row["repairs_left"])
        for row in found.counts.iter_rows(named=True)
    }
    assert told == {
        ("overhauled", "no part"): (3, 1, 1, 0),
        ("overhauled", "all"): (3, 1, 1, 0),
        ("exchanged", "overhauled"): (1, 0, 0, 0),
        ("exchanged", "new"): (2, 0, 0, 0),
        ("exchanged", "used"): (0, 0, 0, 1),
        ("exchanged", "all"): (3, 0, 0, 1),
        ("adjusted", "no part"): (0, 0, 0, 1),
        ("adjusted", "all"): (0, 0, 0, 1),
        ("all", "no part"): (3, 1, 1, 1),
        ("all", "overhauled"): (1, 0, 0, 0),
        ("all", "new"): (2, 0, 0, 0),
        ("all", "used"): (0, 0, 0, 1),
        ("all", "all"): (6, 1, 1, 2),
    }


def test_rule_37_the_one_return_by_hand(found):
    assert found.pairs.select("vehicle_id", "position", "action", "handed_on", "returned_on", "days", "km").rows() == [
        ("A", "left", "overhauled", date(2018, 3, 3), date(2018, 4, 2), 30, 400)
    ]


def test_so_few_repairs_tell_nothing(found):
    assert set(found.counts["status"]) == {"too few"}
    assert set(found.counts["verdict"]) == {"cannot be told"}
