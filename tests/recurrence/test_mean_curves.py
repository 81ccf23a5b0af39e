"""Failures per car so far: cars' own windows cut at their failures, then the mean cumulative function."""

import json
from pathlib import Path

import polars as pl
import pytest

from analytics.parameters import Parameters
from analytics.recurrence.mean_curves import mean_cumulative

SHARED = Path(__file__).resolve().parents[2] / ".." / "shared"


def faults(*rows):
    """Rows of car, position, age of the car in days."""
    return pl.DataFrame(
        [(car, "S1", "hose", position, "age", at, True) for car, position, at in rows],
        schema=dict.fromkeys(["vehicle_id", "series", "component", "position", "scale"], pl.String)
        | {"at": pl.Int64, "position_stated": pl.Boolean},
        orient="row",
    )


def watch(*rows):
    """Rows of car, position, begin, finish."""
    return pl.DataFrame(
        [(car, "S1", "hose", position, "age", begin, finish) for car, position, begin, finish in rows],
        schema=dict.fromkeys(["vehicle_id", "series", "component", "position", "scale"], pl.String)
        | {"begin": pl.Int64, "finish": pl.Int64},
        orient="row",
    )


SIX = watch(*((car, "only", 0, 1000) for car in "abcdef"))


def curve(fault_rows, watch_rows, grouping="component", level="all"):
    table = mean_cumulative(fault_rows, watch_rows, Parameters())
    return table.filter(pl.col("grouping") == grouping, pl.col("level") == level)


def test_each_failure_adds_one_over_the_cars_watched():
    table = curve(faults(("a", "only", 100), ("a", "only", 400), ("b", "only", 400)), SIX)
    assert table["time"].to_list() == [100, 400]
    assert table["events"].to_list() == [1, 2]
    assert table["at_risk"].to_list() == [6, 6]
    assert table["mcf"].to_list() == pytest.approx([1 / 6, 3 / 6])


def test_two_failures_of_one_day_at_one_car_are_a_multiplicity():
    windows = watch(*((car, side, 0, 1000) for car in "abcdef" for side in ("left", "right")))
    table = curve(faults(("a", "left", 300), ("a", "right", 300)), windows)
    assert table.select("time", "events", "at_risk").rows() == [(300, 2, 6)]
    left = curve(faults(("a", "left", 300), ("a", "right", 300)), windows, "position", "left")
    assert left.select("time", "events", "at_risk").rows() == [(300, 1, 6)]


def test_a_position_filled_in_is_left_out_of_that_position_and_kept_for_the_component():
    windows = watch(*((car, side, 0, 1000) for car in "abcdef" for side in ("left", "right")))
    filled = faults(("a", "left", 300)).with_columns(position_stated=pl.lit(value=False))
    assert curve(filled, windows).height == 1
    assert curve(filled, windows, "position", "left").is_empty()


def test_a_curve_starts_where_five_cars_are_watched_and_cars_may_join_late():
    windows = watch(("a", "only", 0, 1000), *((car, "only", 500, 1000) for car in "bcdef"))
    table = curve(faults(("a", "only", 100), ("b", "only", 700)), windows)
    assert table["time"].to_list() == [700]
    assert table["at_risk"].to_list() == [6]


def test_what_failed_while_few_cars_were_watched_moves_neither_the_curve_nor_its_limits():
    late = [(f"c{n}", "only", 5000, 9000) for n in range(30)]
    later = [(f"c{n}", "only", 6000 + 500 * n) for n in range(3)]
    early = [("a", "only", 100 * n) for n in range(1, 9)]
    table = curve(faults(*early, *later), watch(("a", "only", 0, 1000), *late))
    assert table["mcf"].to_list() == pytest.approx([1 / 30, 2 / 30, 3 / 30])
    assert set(table["counted_from"]) == {5000}
    assert table.equals(curve(faults(*later), watch(*late)))
    # the early car still watched later on: its failures after the start count, those before do not
    throughout = curve(faults(*early, *later, ("a", "only", 8500)), watch(("a", "only", 0, 9000), *late))
    assert throughout["mcf"].to_list() == pytest.approx([n / 31 for n in (1, 2, 3, 4)])


def test_a_curve_ends_at_the_last_time_with_five_cars_watched():
    windows = watch(*((car, "only", 0, 100 * n) for n, car in enumerate("abcdefgh", start=1)))
    failed = faults(("a", "only", 50), ("h", "only", 390), ("d", "only", 400), ("e", "only", 401), ("h", "only", 700))
    assert curve(failed, windows).select("time", "at_risk").rows() == [(50, 8), (390, 5), (400, 5)]


def test_of_two_stretches_with_enough_cars_the_one_with_most_car_time_is_drawn():
    first = [(f"a{n}", "only", 0, 500) for n in range(6)]
    second = [(f"b{n}", "only", 800, 2000) for n in range(6)]
    failed = faults(("a0", "only", 100), ("b0", "only", 900), ("b1", "only", 1900))
    table = curve(failed, watch(*first, ("z", "only", 0, 2000), *second))
    assert table.select("time", "at_risk").rows() == [(900, 7), (1900, 7)]
    assert table["mcf"].to_list() == pytest.approx([1 / 7, 2 / 7])


def test_four_cars_have_no_curve():
    windows = watch(*((car, "only", 0, 1000) for car in "abcd"))
    assert mean_cumulative(faults(("a", "only", 100)), windows, Parameters()).is_empty()


def test_a_failure_outside_its_cars_window_does_not_count():
    assert curve(faults(("a", "only", 1500)), SIX).is_empty()


def test_no_window_gives_no_row():
    assert mean_cumulative(faults(), watch(), Parameters()).is_empty()


@pytest.mark.skipif(not SHARED.exists(), reason="published cases lie in ../shared, which is absent")
def test_valve_seats_through_the_stage_give_the_published_values():
    """41 engines, 48 replacements: Nelson (1995); values of R survival and Lawless-Nadeau errors."""
    case = json.loads((SHARED / "references" / "mcf_valve_seats.json").read_text())
    rows = case["data"]["rows"]
    table = curve(
        faults(*((str(engine), "only", int(day)) for engine, day, replaced in rows if replaced)),
        watch(*((str(engine), "only", 0, int(day)) for engine, day, replaced in rows if not replaced)),
    )
    at = {day: table.filter(pl.col("time") <= day)["mcf"][-1] for day in (100, 200, 300, 400, 500, 600)}
    assert list(at.values()) == pytest.approx([0.1463, 0.2683, 0.4634, 0.6585, 0.8085, 1.0143], abs=5e-5)


def test_a_series_or_position_called_all_adds_nothing_to_the_component():
    names = {"series": pl.lit("all"), "position": pl.lit("all")}
    failed = faults(("a", "only", 100), ("b", "only", 400))
    table = curve(failed.with_columns(**names), SIX.with_columns(**names))
    assert table.equals(curve(failed, SIX))
