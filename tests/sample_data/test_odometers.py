"""Odometers: figures rise but where dirt is planted, and the dirt is as the truth says."""

from itertools import pairwise

import polars as pl
import pytest

from sample_data.lives import Travel
from sample_data.roads import Instrument
from tests.sample_data.feed import table, truth

KM = 1.609344


def figures(feed):
    """All figures of all cars in order of day, without those the truth says are dirty."""
    dirty = {(d.record_id, str(d.line_no)) for d in truth(feed).dirty}
    lines = table(feed, "repairs").filter(pl.col("odometer").is_not_null(), pl.col("opened_on").is_not_null())
    clean = [r for r in lines.iter_rows(named=True) if (r["record_id"], r["line_no"]) not in dirty]
    read = list(table(feed, "readings").iter_rows(named=True))
    rows = [(r["vehicle_id"], r["opened_on"], int(r["odometer"]), r["odometer_unit"]) for r in clean]
    rows += [(r["vehicle_id"], r["read_on"], int(r["odometer"]), r["odometer_unit"]) for r in read]
    by_car = {}
    for vehicle, *rest in sorted(set(rows), key=lambda row: row[:2]):
        by_car.setdefault(vehicle, []).append(rest)
    return by_car


def falls(read):
    return [(a, b) for a, b in pairwise(read) if b[1] < a[1]]


@pytest.fixture(scope="module")
def by_kind(demo_feed):
    found = {}
    read = figures(demo_feed)
    for car in truth(demo_feed).cars:
        if car.seen:
            found.setdefault(car.odometer, []).append((car, read.get(car.vehicle_id, [])))
    return found


def test_truth_7_the_planted_shares_of_odometers_are_there(demo_feed, by_kind):
    cars = len(truth(demo_feed).cars)
    for kind, share in (("unit switched", 0.10), ("rolled over", 0.04), ("instrument changed", 0.03)):
        assert len(by_kind[kind]) / cars == pytest.approx(share, abs=0.005)


def test_a_plain_odometer_never_falls(by_kind):
    assert len(by_kind["plain"]) > 300
    assert not [car.vehicle_id for car, read in by_kind["plain"] if falls(read)]


def test_an_odometer_that_rolls_over_falls_by_a_full_turn(by_kind):
    for car, read in by_kind["rolled over"]:
        turns = falls(read)
        assert sum(before[0] < car.odometer_from <= after[0] for before, after in turns) == 1, car.vehicle_id
        for before, after in turns:  # a car in daily use turns over more than once
            assert 0 < after[1] + 100_000 - before[1] < 45_000


def test_a_switch_of_unit_changes_the_figure_by_a_mile(by_kind):
    labelled = 0
    for car, read in by_kind["unit switched"]:
        before = [r for r in read if r[0] < car.odometer_from]
        after = [r for r in read if r[0] >= car.odometer_from]
        assert before
        assert after
        ratio = after[0][1] / before[-1][1]
        assert 0.6 < ratio < 0.95 or 1.6 < ratio < 2.5, car.vehicle_id
        labelled += bool(before[0][2])
        assert (before[0][2] == after[0][2]) == (not before[0][2])
    assert 0.25 < labelled / len(by_kind["unit switched"]) < 0.75


def test_a_changed_instrument_is_told_by_an_order(demo_feed, by_kind):
    told = table(demo_feed, "repairs").filter(pl.col("component") == "speedometer", pl.col("action") == "exchanged")
    days = {row["vehicle_id"]: row["closed_on"] for row in told.iter_rows(named=True)}
    assert set(days) == {car.vehicle_id for car, _ in by_kind["instrument changed"]}
    for car, read in by_kind["instrument changed"]:
        after = [r for r in read if r[0] >= car.odometer_from]
        before = [r for r in read if r[0] < car.odometer_from]
        assert after[0][1] < before[-1][1], car.vehicle_id


def test_an_instrument_reads_what_the_road_says():
    road = Travel(700_000, [100.0] * 2_000)
    plain = Instrument("plain", "mi", 6, 0, 0, labelled=True)
    assert plain.reading(road, 700_999) == (int(100_000 / KM), "mi")
    rolled = Instrument("rolled over", "km", 5, 700_999, 0, labelled=True)
    assert rolled.reading(road, 700_998) == (99_900, "km")
    assert rolled.reading(road, 700_999) == (0, "km")
    changed = Instrument("instrument changed", "km", 6, 700_500, 23_410, labelled=False)
    assert changed.reading(road, 700_501) == (23_510, "")


def test_no_figure_in_miles_goes_without_a_word_but_after_a_planted_switch(by_kind):
    for kind in ("plain", "rolled over", "instrument changed"):
        for car, read in by_kind[kind]:
            assert len({unit for _, _, unit in read}) <= 1, car.vehicle_id
    silent = [(car, read) for car, read in by_kind["unit switched"] if not any(unit for _, _, unit in read)]
    assert len(silent) > 10
    for car, read in silent:
        assert read[0][1] == pytest.approx(car.km_at_joining, rel=0.02, abs=3_000), car.vehicle_id
