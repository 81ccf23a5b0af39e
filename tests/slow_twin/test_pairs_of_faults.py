"""Pairs of faults, their fates and what follows against their plain twins."""

from collections import Counter
from datetime import date, timedelta

import polars as pl
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.parameters import Parameters
from analytics.recurrence import fault_pairs
from analytics.recurrence.fault_pairs import COUNTED
from analytics.recurrence.follow_on import follow_on
from analytics.recurrence.numbered_faults import FollowOnRecords
from tests.slow_twin.pairs_of_faults import followed, pairs_of_car

NAMES = ("cap", "hose", "pump")
START = date(2015, 1, 1)
WINDOW = Parameters().follow_on_days


@st.composite
def cars(draw):
    """Cars of a few visits each, often near each other, with faults and renewals of three components."""
    fleet = []
    for _ in range(draw(st.integers(1, 6))):
        day, visits = 0, []
        for _ in range(draw(st.integers(1, 7))):
            opened = day + draw(st.one_of(st.integers(1, 40), st.integers(1, 200)))
            day = opened + draw(st.sampled_from([0, 0, 3, 30]))
            kinds = st.sampled_from(["failure", "failure", "failure", "found", "joining"])
            faults = draw(st.dictionaries(st.sampled_from(NAMES), kinds, min_size=1, max_size=2))
            renewed = draw(st.sets(st.sampled_from(NAMES), max_size=1))
            visits.append({"opened": opened, "closed": day, "faults": faults, "renewed": renewed})
        fleet.append(visits)
    return fleet


def on(day):
    return START + timedelta(day)


def records(fleet):
    faults, lines, visits = [], [], []
    for car, history in enumerate(fleet):
        for visit in history:
            at = (f"car {car}", on(visit["opened"]))
            visits.append((*at, on(visit["closed"])))
            for name, kind in visit["faults"].items():
                reads = "found at inspection" if kind == "found" else "failure"
                faults.append((*at, name, reads, "joining fault" if kind == "joining" else None, f"{len(faults)}"))
            lines += [(*at, name, True, "planned", "") for name in sorted(visit["renewed"])]
    key = {"vehicle_id": pl.String, "visit_day": pl.Date, "component": pl.String}
    more = {"reads_as": pl.String, "why_unused": pl.String, "fault_record": pl.String}
    done = {"renews": pl.Boolean, "reason": pl.String, "cause": pl.String}
    return FollowOnRecords(
        fault=pl.DataFrame(faults, {**key, **more}, orient="row"),
        line=pl.DataFrame(lines, {**key, **done}, orient="row"),
        visit=pl.DataFrame(visits, {"vehicle_id": pl.String, "day": pl.Date, "closed_on": pl.Date}, orient="row"),
        vehicle=pl.DataFrame(schema={"vehicle_id": pl.String, "left_on": pl.Date}),
        facts=pl.DataFrame(schema={"component": pl.String, "safety_critical": pl.Boolean}),
    )


@settings(max_examples=30)
@given(cars(), st.sampled_from([1, 5, 1_000_000]))
def test_every_pair_has_the_fate_that_the_words_of_the_rule_give_it(fleet, at_once):
    usual, fault_pairs.PAIRS_AT_ONCE = fault_pairs.PAIRS_AT_ONCE, at_once
    try:
        found = follow_on(records(fleet), Parameters(), date(2024, 1, 1))
    finally:
        fault_pairs.PAIRS_AT_ONCE = usual
    fates, pairs = Counter(), set()
    for car, visits in enumerate(fleet):
        for ((m, first), (n, then)), fate in pairs_of_car(visits, WINDOW).items():
            if isinstance(fate, tuple):
                pairs.add((f"car {car}", first, then, on(visits[m]["opened"]), on(visits[n]["opened"]), fate[1]))
            else:
                fates[fate] += 1
    columns = ["vehicle_id", "first", "then", "first_on", "then_on", "days"]
    assert set(found.pairs.select(columns).rows()) == pairs
    assert found.pairs.height == len(pairs)
    told = {row["kind"].split(": ")[1]: row["count"] for row in found.left_out.iter_rows(named=True)}
    assert told == dict(fates)
    assert COUNTED not in told


@settings(max_examples=20)
@given(cars())
def test_as_many_failures_are_followed(fleet):
    for row in follow_on(records(fleet), Parameters(), date(2024, 1, 1)).follow_on.iter_rows(named=True):
        wanted = sum(followed(visits, WINDOW, row["first"], row["then"]) for visits in fleet)
        assert row["followed"] == wanted
        assert row["first_watched"] >= wanted


@settings(max_examples=12)
@given(cars(), st.randoms(use_true_random=False))
def test_the_order_of_rows_and_the_names_of_cars_change_nothing(fleet, chance):
    mixed = records(fleet)
    shuffled = FollowOnRecords(
        fault=mixed.fault.sample(fraction=1, shuffle=True, seed=chance.randint(0, 999)),
        line=mixed.line.reverse(),
        visit=mixed.visit.reverse(),
        vehicle=mixed.vehicle,
        facts=mixed.facts,
    )
    once, twice = (follow_on(each, Parameters(), date(2024, 1, 1)) for each in (mixed, shuffled))
    assert once.follow_on.equals(twice.follow_on)
    assert once.pairs.equals(twice.pairs)
