"""Repairs that come back: which are watched, for how long, and what counts as their return (rules 24, 37).

Every case is a car and a component of its own, so that one ledger holds them all.
"""

from dataclasses import dataclass, field, replace
from datetime import date, timedelta
from typing import Any

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.spells.explain import UNWATCHED
from tests.spells.exposure_of import exposed, reasons, seen
from tests.spells.history_of import AS_OF, car, job, places

FIRST = "2010-01-01"
OPEN = (AS_OF - timedelta(days=89)).isoformat()
OVER = (AS_OF - timedelta(days=90)).isoformat()
A, B = "2012-01-02", "2012-02-02"


@dataclass(frozen=True)
class Case:
    """Lines about one hose of one car, and the days until the return by day of hand-over; None = it held.

    Repairs that are not watched are left out.
    """

    lines: list[dict[str, Any]]
    wanted: dict[str, int | None]
    pair: bool = False
    of_car: dict[str, Any] = field(default_factory=dict)
    readings: tuple[tuple[str, float], ...] = ()


def again(day=B, **columns):
    return job(day, **columns)


def both(first, second, days):
    """A repair of one position, then a failure of another."""
    return Case([job(A, position=first), again(position=second)], {A: days, B: None}, pair=True)


CASES = {
    "the last day of the window": Case(
        [job(A, opened_on="2011-12-20"), again("2012-04-01")], {A: 90, "2012-04-01": None}
    ),
    "the day after it": Case([job(A), again("2012-04-02")], {A: None, "2012-04-02": None}),
    "the next morning": Case([job(A), again("2012-01-03")], {A: 1, "2012-01-03": None}),
    "the day of coming in counts": Case(
        [job(A), again("2012-06-01", opened_on="2012-03-01")], {A: 59, "2012-06-01": None}
    ),
    "a second order of the same visit": Case(
        [job(A), again("2012-01-20", opened_on=A), again("2012-03-01")],
        {A: 59, "2012-01-20": 41, "2012-03-01": None},
    ),
    **{
        f"{reason} is no return": Case([job(A), again(reason=reason)], {A: None, B: None})
        for reason in ("found at inspection", "consequence", "planned", "no fault found", "accident")
    },
    "a failure of no told reason": Case([job(A), again(reason=None)], {A: 31, B: None}),
    **{
        f"{reason} can come back": Case([job(A, reason=reason), again()], {A: 31, B: None})
        for reason in ("planned", "changed in passing", "found at inspection", "no fault found")
    },
    "the same position": both("left", "left", 31),
    "the other position": both("left", "right", None),
    "the failure names none": both("left", None, 31),
    "the repair names none": both(None, "right", 31),
    "neither names one": both(None, None, 31),
    "a sister line names it": Case(
        [
            job(A, record_id="sister", position="left"),
            job(A, record_id="sister", line_no=2, action="adjusted", reason=None),
            again(position="right"),
        ],
        {A: None, B: None},
        pair=True,
    ),
    "a line about two parts": Case([job(A, quantity=2), again(quantity=2)], {A: 31, B: None}, pair=True),
    "another component": Case([job(A), again(component="horn")], {A: None}),
    "each return is a repair": Case([job(A), again(), again("2012-03-02")], {A: 31, B: 29, "2012-03-02": None}),
    "within 1,500 km": Case([job(A, odometer=10_000), again(odometer=11_500)], {A: 31, B: None}),
    "beyond 1,500 km": Case([job(A, odometer=10_000), again(odometer=11_501)], {A: None, B: None}),
    "km of the repair not known": Case([job(A), again(odometer=90_000)], {A: 31, B: None}),
    "km between two readings": Case(
        [job(A), again()], {A: None, B: None}, readings=(("2011-01-01", 10_000), ("2013-01-01", 10_000 + 731 * 50))
    ),
    "the window is over": Case([job(OVER)], {OVER: None}),
    "the window is open": Case([job(OPEN)], {}),
    "back before an open window ends": Case([job(OPEN), again("2020-12-01")], {}),
    "left on the last day": Case([job(A), again()], {A: 31}, of_car={"left_on": "2012-04-01"}),
    "left the day before": Case([job(A), again()], {}, of_car={"left_on": "2012-03-31"}),
    "never seen again": Case([job(A)], {A: None}),
    "handed over in a bare month": Case([job(A, inferred="closed_on"), again()], {B: None}),
    "came in in a bare month": Case([job(A), again(inferred="opened_on")], {A: None}),
    "inspected only": Case([job(A, action="inspected"), again()], {B: None}),
    "found and left": Case([job(A, action="none"), again()], {B: None}),
    "the part was credited": Case(
        [
            job(A, record_id="back", part_no="P1"),
            job(A, record_id="back", line_no=2, part_no="P1", quantity=-1),
            again(),
        ],
        {B: None},
    ),
    "the car's first visit": Case([job(FIRST), again("2010-02-01")], {FIRST: 31, "2010-02-01": None}),
}


@pytest.fixture(scope="module")
def found():
    """The exposure of all cases; a component is told apart by position however many lines name none."""
    tables: dict[str, list[dict[str, Any]]] = {"vehicles": [], "repairs": [], "readings": [], "components": []}
    for name, case in CASES.items():
        tables["vehicles"].append(car(name, **case.of_car))
        tables["components"] += places(name, ("left", "right") if case.pair else (None,))
        tables["repairs"].append(seen(FIRST, name, record_id=f"first {name}"))
        for line in case.lines:
            component = name if line["component"] == "hose" else line["component"]
            number = {"record_id": f"{name} {line['record_id']}"} if "record_id" in line else {}
            tables["repairs"].append({**line, **number, "vehicle_id": name, "component": component})
        tables["readings"] += [
            {"vehicle_id": name, "read_on": day, "odometer": km, "source": "annual return"} for day, km in case.readings
        ]
    return exposed(parameters=replace(Parameters(), blank_position_share=1.0), **tables)


@pytest.mark.parametrize("name", CASES)
def test_rule_37_what_is_watched_and_what_comes_back(found, name):
    repairs = found.repaired.filter(pl.col("component") == name)
    watched = repairs.filter(pl.col("why_none").is_null())
    assert watched["handed_on"].is_duplicated().sum() == 0
    assert dict(zip(watched["handed_on"].cast(pl.String), watched["days"], strict=True)) == CASES[name].wanted
    assert repairs.filter(pl.col("why_none").is_not_null())["return_record"].is_null().all()


def test_rule_37_watched_and_not_watched_repairs_add_up_to_all_by_reason(found):
    told = reasons(found, UNWATCHED)
    assert set(told) == {
        "its day is not known",
        "not long enough ago",
        "nothing was done to it",
        "the car left before",
    }
    assert told["not long enough ago"] == 3
    assert told["the car left before"] == 3
    assert found.repaired["why_none"].is_null().sum() + sum(told.values()) == found.repaired.height


def test_rule_37_a_car_that_drives_far_is_watched_until_it_comes_to_1500_km(found):
    days = dict(
        found.repaired.filter(pl.col("handed_on") == date(2012, 1, 2)).select("vehicle_id", "days_watched").rows()
    )
    assert days["km between two readings"] == 30  # 50 km a day
    assert days["never seen again"] == 90


def test_rule_24_repairs_after_the_last_neutral_visit_are_watched_as_well(found):
    name = "each return is a repair"
    assert not found.fault.filter(pl.col("component") == name)["used"].any()
    assert found.repaired.filter(pl.col("component") == name)["days"].to_list() == [31, 29, None]


def test_the_unit_after_a_repair_is_new_or_goes_on_at_its_age():
    lines = [
        job("2012-01-02", part_no="P0", part_origin="reproduction"),
        job("2013-01-02", action="adjusted"),
        job("2014-01-02", part_origin="used", part_no="P1"),
        job("2015-01-02", action="adjusted"),
        job("2011-01-01", component="belt", action="repaired"),
        job("2012-01-01", component="belt", action="adjusted", reason="planned"),
        job("2013-01-01", component="belt", action="repaired", reason="found at inspection"),
        job("2012-01-02", component="pad", position="left"),
        job("2013-01-02", component="pad"),
        job("2014-01-02", component="pad", position="right", action="overhauled"),
        job("2015-01-02", component="pad", position="right", reason="found at inspection", part_no="P2"),
    ]
    pads = [*places("pad", ("left", "right")), *places("hose", (None,)), *places("belt", (None,))]
    found = exposed(
        parameters=replace(Parameters(), blank_position_share=1.0),
        vehicles=[car(built_on="2000-01-01")],
        components=pads,
        repairs=[seen("2010-01-01"), *lines],
    ).repaired.sort("handed_on")
    told = found.filter(pl.col("component") == "hose").select("is_new", "age", "age_known", "joined_age")
    assert told.rows() == [
        (True, 0, True, None),
        (False, 366, True, None),
        (False, None, False, None),  # of a used part nothing is known
        (False, 365, False, 5115),  # nor later
    ]
    belt = found.filter(pl.col("component") == "belt").select("age", "age_known", "joined_age", "failed_at")
    assert belt.rows() == [  # found there at joining, of a car ten years old
        (365, False, 3653, [365]),
        (730, False, 3653, [365]),
        (1096, False, 3653, [365, 1096]),
    ]
    pad = found.filter(pl.col("component") == "pad")
    assert pad["blank_share"].to_list() == [1 / 3] * 4
    assert pad["failure_share"].to_list() == [3 / 4] * 4
    assert pad["part_origin"].to_list() == ["unknown", "unknown", "no part", "unknown"]
    assert found.filter(pl.col("component") == "hose")["part_origin"].to_list() == [
        "reproduction",
        "no part",
        "used",
        "no part",
    ]


def test_rule_37_a_car_that_nobody_dates_says_nothing_of_the_age_of_a_unit_found_in_it():
    lines = [job("2011-01-01", action="repaired", reason="failure"), job("2012-01-01", action="repaired")]
    found = exposed(vehicles=[car(built_on=None)], repairs=[seen("2010-01-01"), *lines]).repaired
    mended = found.filter(pl.col("action") == "repaired")
    assert mended.select("age_known", "joined_age").rows() == [(False, None), (False, None)]
