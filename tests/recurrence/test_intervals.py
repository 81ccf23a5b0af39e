"""Rule 35: failures, exposure, rates, gaps and trend per component, position and series."""

from datetime import date, timedelta

import polars as pl
import pytest
from scipy.stats import chi2

from analytics.parameters import Parameters
from analytics.recurrence.intervals import failure_intervals

START = date(2010, 1, 1)
YEAR = 365.25


def faults(*rows):
    """Rows of car, series, position, days after the start, used."""
    return pl.DataFrame(
        [
            (car, series, "hose", position, START + timedelta(days=d), used, False)
            for car, series, position, d, used in rows
        ],
        schema={
            "vehicle_id": pl.String,
            "series": pl.String,
            "component": pl.String,
            "position": pl.String,
            "visit_day": pl.Date,
            "used": pl.Boolean,
            "position_inferred": pl.Boolean,
        },
        orient="row",
    )


def watch(*rows):
    """Rows of car, series, position, days watched."""
    return pl.DataFrame(
        [(car, series, "hose", pos, START, START + timedelta(days=d), d, 10 * d) for car, series, pos, d in rows],
        schema={
            "vehicle_id": pl.String,
            "series": pl.String,
            "component": pl.String,
            "position": pl.String,
            "start_on": pl.Date,
            "end_on": pl.Date,
            "vehicle_days": pl.Int64,
            "km": pl.Int64,
        },
        orient="row",
    )


def gaps(*rows):
    """Rows of car, series, position, days, event."""
    return pl.DataFrame(
        [("hose", pos, series, car, d, e) for car, series, pos, d, e in rows],
        schema={
            "component": pl.String,
            "position": pl.String,
            "series": pl.String,
            "vehicle_id": pl.String,
            "days": pl.Int64,
            "event": pl.Int64,
        },
        orient="row",
    )


WATCH = watch(
    ("a", "S1", "left", 3652),
    ("a", "S1", "right", 3652),
    ("b", "S1", "left", 1826),
    ("b", "S1", "right", 1826),
    ("c", "S2", "left", 1826),
)
FAULTS = faults(
    ("a", "S1", "left", 400, True),
    ("a", "S1", "left", 900, True),
    ("a", "S1", "right", 900, True),
    ("c", "S2", "left", 100, True),
    ("c", "S2", "left", 5000, False),
)
GAPS = gaps(("a", "S1", "left", 500, 1), ("a", "S1", "left", 2752, 0), ("a", "S1", "right", 2752, 0))


def row(position="all", series="all", fault_rows=FAULTS, watch_rows=WATCH, gap_rows=GAPS):
    table = failure_intervals(fault_rows, watch_rows, gap_rows, Parameters())
    return table.filter(pl.col("position") == position, pl.col("series") == series).row(0, named=True)


def test_rule_35_all_positions_add_up_while_a_car_counts_once():
    whole = row()
    assert whole["failures"] == 4
    assert whole["vehicles"] == 3
    assert whole["vehicle_years"] == pytest.approx((3652 + 1826 + 1826) / YEAR)
    assert whole["distance_km"] == 10 * (3652 + 1826 + 1826)
    left, right = row("left"), row("right")
    assert left["failures"] + right["failures"] == whole["failures"]
    assert right["vehicle_years"] == pytest.approx((3652 + 1826) / YEAR)


def test_rule_35_a_position_filled_in_by_rule_16_counts_for_the_car_and_for_no_side():
    blank = FAULTS.with_columns(position_inferred=pl.col("visit_day") == START + timedelta(days=400))
    assert row(fault_rows=blank)["failures"] == 4
    assert row("left", fault_rows=blank)["failures"] == 2
    assert row("left")["failures"] == 3


def test_rule_35_seen_and_used_are_told_apart():
    assert (row(series="S2")["events_seen"], row(series="S2")["events_used"]) == (2, 1)


def test_rule_35_limits_of_the_rate_are_exact():
    """Garwood (1936), Biometrika 28, 437-442: limits of a Poisson mean by chi-square points."""
    whole = row()
    hundred = whole["vehicle_years"] / 100
    assert whole["rate_lower"] == pytest.approx(chi2.ppf(0.05, 2 * 4) / 2 / hundred)
    assert whole["rate_upper"] == pytest.approx(chi2.ppf(0.95, 2 * 5) / 2 / hundred)


def test_rule_35_the_median_gap_counts_those_that_have_not_failed_again():
    assert row("left", "S1")["median_interval_days"] == 500
    assert row("left", "S1")["median_status"] == "ok"
    assert row()["median_interval_days"] is None
    assert row()["median_status"] == "more than half have not failed again"
    assert row("right")["median_status"] == "no second failure yet"
    assert row(series="S2")["median_status"] == "no gap to measure"


def test_rule_35_a_part_that_never_failed_has_a_rate_with_an_upper_limit_only():
    none = row(fault_rows=FAULTS.clear(), gap_rows=GAPS.clear())
    assert none["failures"] == 0
    assert none["rate_per_100_vehicle_years"] == 0
    assert none["rate_lower"] == 0
    assert none["rate_upper"] == pytest.approx(chi2.ppf(0.95, 2) / 2 / (none["vehicle_years"] / 100))
    assert none["trend_z"] is none["trend_failures"] is None


def test_nobody_watched_gives_no_row():
    assert failure_intervals(FAULTS.clear(), WATCH.clear(), GAPS.clear(), Parameters()).is_empty()


def test_rule_35_a_series_or_position_called_all_is_not_counted_twice():
    renamed = {"left": "all", "S1": "all"}
    same = [frame.with_columns(pl.col("position", "series").replace(renamed)) for frame in (FAULTS, WATCH, GAPS)]
    table = failure_intervals(*same, Parameters())
    assert table.select("position", "series").is_duplicated().sum() == 0
    assert row(fault_rows=same[0], watch_rows=same[1], gap_rows=same[2]) == row()
    assert table.filter(pl.col("position") == "right")["failures"].to_list() == [1]
