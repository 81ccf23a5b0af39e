"""Ten cars with a pump and a valve, by hand: which pairs of failures count for what fails next, and which do not."""

from datetime import date

import polars as pl
import pytest
from scipy.stats import binomtest

from analytics.parameters import Parameters
from analytics.recurrence.fault_pairs import COUNTED, FATES
from analytics.recurrence.follow_on import follow_on
from analytics.recurrence.numbered_faults import FollowOnRecords
from analytics.spells.exposure import build_exposure
from tests.fleet import ledger_of

AS_OF = date(2024, 1, 1)


def line(car, component, opened, closed=None, reason="failure", record=None, **more):
    return {
        "record_id": record or f"{car}-{opened}",
        "vehicle_id": car,
        "component": component,
        "opened_on": opened,
        "closed_on": closed or opened,
        "action": "replaced",
        "reason": reason,
        **more,
    }


RECORDS = [
    *(line(car, "oil", "2014-01-01", reason="planned", record=f"{car}-0") for car in "abcdefghi"),
    # a: pump, then valve, 49 days after its hand-over
    line("a", "pump", "2020-01-10", "2020-01-12"),
    line("a", "valve", "2020-03-01"),
    # b: both on one order
    line("b", "pump", "2020-01-10"),
    line("b", "valve", "2020-01-10", record="b-2020-01-10", line_no=2),
    # c: the other way round
    line("c", "valve", "2020-01-10"),
    line("c", "pump", "2020-02-10"),
    # d: on the last day of the window, counted from the hand-over
    line("d", "pump", "2020-01-10", "2020-01-20"),
    line("d", "valve", "2020-05-19"),
    # e: a day later
    line("e", "pump", "2020-01-10", "2020-01-20"),
    line("e", "valve", "2020-05-20"),
    # f: the valve was renewed with the pump
    line("f", "pump", "2020-01-10"),
    line("f", "valve", "2020-01-10", reason="changed in passing", record="f-2020-01-10", line_no=2),
    line("f", "valve", "2020-02-10"),
    # g: the valve was found at an inspection
    line("g", "pump", "2020-01-10"),
    line("g", "valve", "2020-02-10", reason="found at inspection"),
    # h: the second pump is nearer to the valve than the first
    line("h", "pump", "2020-01-10"),
    line("h", "valve", "2020-02-19"),
    line("h", "pump", "2020-03-10"),
    # i: of two pairs the earlier one counts
    line("i", "pump", "2016-01-10"),
    line("i", "valve", "2016-02-10"),
    line("i", "valve", "2018-01-10"),
    line("i", "pump", "2018-02-10"),
    # j: the pump was faulty when the car joined
    line("j", "pump", "2020-01-10"),
    line("j", "valve", "2020-02-10", "2020-02-11"),
]


def analysed(lines, as_of=AS_OF):
    cars = sorted({row["vehicle_id"] for row in lines})
    ledger = ledger_of(vehicles=[{"vehicle_id": car, "series": "S1"} for car in cars], repairs=lines)
    exposure = build_exposure(ledger, as_of, Parameters())
    read = (ledger.table(name).pl() for name in ("line", "visit", "component_fact"))
    records, visits, facts = read
    told = FollowOnRecords(exposure.fault, records, visits, exposure.vehicle, facts)
    return follow_on(told, Parameters(), as_of)


@pytest.fixture(scope="module")
def found():
    return analysed(RECORDS)


def row(found, first, then):
    return found.follow_on.row(by_predicate=(pl.col("first") == first) & (pl.col("then") == then), named=True)


def test_rule_37_one_pair_per_car_its_earliest_on_different_visits(found):
    pairs = {
        each["vehicle_id"]: (each["first"], each["then"], each["days"]) for each in found.pairs.iter_rows(named=True)
    }
    assert pairs == {
        "a": ("pump", "valve", 49),
        "c": ("valve", "pump", 31),
        "d": ("pump", "valve", 120),
        "h": ("valve", "pump", 20),
        "i": ("pump", "valve", 31),
    }


def test_rule_37_both_directions_are_rows_of_one_test_each(found):
    ahead, behind = row(found, "pump", "valve"), row(found, "valve", "pump")
    assert (ahead["n_first_then"], ahead["n_then_first"]) == (behind["n_then_first"], behind["n_first_then"]) == (3, 2)
    assert found.follow_on.height == 2
    assert ahead["expected_share"] + behind["expected_share"] == pytest.approx(1)
    for each in (ahead, behind):
        known = binomtest(each["n_first_then"], 5, each["expected_share"], alternative="greater").pvalue
        assert each["p_value"] == pytest.approx(known, rel=1e-9)
        assert (each["status"], each["tests"], each["window_days"]) == ("ok", 2, 120)


def test_rule_37_every_pair_of_faults_counts_or_has_its_reason(found):
    counts = {each["kind"].split(": ")[1]: each["count"] for each in found.left_out.iter_rows(named=True)}
    assert counts == {
        "on the same visit": 1,  # b; f's valve in passing is no fault
        "one was found at inspection": 1,  # g
        "one was met when the car joined": 1,  # j
        "the other failed or was renewed on one of the two visits": 1,  # f
        "another failure is nearer": 1,  # h
        "an earlier pair of the car counts": 1,  # i
    }
    assert set(counts) | {COUNTED} == set(FATES)
    assert found.left_out["out_of"].unique().to_list() == [sum(counts.values()) + found.pairs.height]


def test_how_often_the_second_follows_is_told_of_all_failures_that_could_be_followed(found):
    # pumps of a, c, d, e, g, h twice, i twice: not b, f (valve beside it) nor j (joining); valve after a, d, h, i
    ahead = row(found, "pump", "valve")
    assert (ahead["first_watched"], ahead["followed"]) == (9, 4)
    known = binomtest(4, 9).proportion_ci(0.90, method="exact")
    assert (ahead["share"], ahead["share_lower"], ahead["share_upper"]) == pytest.approx((4 / 9, known.low, known.high))
    assert ahead["median_days"] == 49


def test_the_calendar_s_share_is_that_of_pairs_of_different_cars(found):
    pumps = {"a": [10], "b": [10], "c": [41], "d": [10], "e": [10], "f": [10], "g": [10], "h": [10, 70]}
    valves = {"a": [61], "b": [10], "c": [10], "d": [140], "e": [141], "f": [41], "h": [50]}  # days of 2020
    apart = [v - p for car in pumps for p in pumps[car] for other in valves if other != car for v in valves[other]]
    after, before = (sum(0 < sign * days <= 120 for days in apart) for sign in (1, -1))
    assert row(found, "pump", "valve")["expected_share"] == pytest.approx((after + 10) / (after + before + 20))


def test_what_cannot_be_watched_for_the_window_is_not_in_the_share():
    # from 10 January to 9 May 2020 are 120 days: only a pump handed over on the day it came in was watched so long
    early = analysed(RECORDS, date(2020, 5, 9))
    assert row(early, "pump", "valve")["first_watched"] == 4  # g, h once, i twice
