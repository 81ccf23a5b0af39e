"""Total km on any day: rule 29, the as-of day, and the shrunken rate."""

from datetime import date
from math import exp, log

import numpy as np
import polars as pl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from analytics.parameters import Parameters
from analytics.spells.clocks import VEHICLE_SCHEMA
from analytics.spells.use_rate import use_rates
from tests.spells.clock_of import clock, km, on

YEAR = 365.25


def test_rule_29_between_two_readings_the_car_is_driven_evenly():
    made = clock((0, 10_000), (100, 11_000), (300, 12_000))
    assert km(made, 0, 50, 100, 200, 300) == [10_000, 10_500, 11_000, 11_500, 12_000]


def test_rule_29_before_the_first_reading_the_distance_is_not_known():
    assert km(clock((10, 10_000), (400, 12_000)), 9, 10) == [None, 10_000]


def test_rule_29_on_the_day_of_building_it_is_nought_where_the_total_is_trusted():
    figures = ((365, 10_000), (730, 12_000))
    assert km(clock(*figures, built_on=on(0), trusted=True), 0, 1, 364) == [0, None, None]
    assert km(clock(*figures, built_on=on(0)), 0) == [None]


def test_rule_29_a_reading_on_the_day_of_building_holds():
    assert km(clock((0, 12), (365, 10_000), built_on=on(0), trusted=True), 0) == [12]


@pytest.mark.parametrize(("months", "last"), [(24, 730), (6, 182)])
def test_rule_29_past_the_last_reading_it_is_carried_on_so_many_months(months, last):
    made = clock((0, 10_000), (730, 14_000), parameters=Parameters(carry_on_months=months))
    ahead = km(made, 730 + last, 731 + last)
    assert ahead == [round(14_000 + 4_000 / 730 * last), None]


def test_rule_06_readings_after_the_as_of_day_do_not_exist():
    made = clock((0, 10_000), (365, 12_000), (730, 20_000), as_of=on(729))
    assert made.reading.height == 2
    assert km(made, 700) == [round(12_000 + 2_000 / 365 * 335)]


def test_of_two_readings_on_one_day_the_greater_counts():
    assert km(clock((0, 10_000), (365, 12_000), (365, 12_040)), 365) == [12_040]


def test_a_car_without_readings_has_no_distance():
    made = clock((0, 10_000), (365, 12_000))
    asked = made.km_at(pl.Series(["B", "A", "B"]), pl.Series([on(0), on(0), None], dtype=pl.Date))
    assert asked.to_list() == [None, 10_000, None]


def test_nothing_at_all_gives_nothing_at_all():
    made = clock()
    assert made.reading.is_empty()
    assert km(made, 0, 5) == [None, None]


@settings(deadline=None, max_examples=60)
@given(
    st.lists(st.tuples(st.integers(1, 400), st.integers(0, 9_000)), min_size=1, max_size=12),
    st.lists(st.integers(-50, 5_500), min_size=1, max_size=12),
)
def test_a_clock_of_readings_that_rise_agrees_with_straight_lines(steps, days):
    """NumPy's own interpolation is the second implementation."""
    day = np.cumsum([gap for gap, _ in steps])
    shown = 10_000 + np.cumsum([rise for _, rise in steps])
    made = clock(*zip(day.tolist(), shown.tolist(), strict=True))
    for asked, answer in zip(days, km(made, *days), strict=True):
        if day[0] <= asked <= day[-1]:
            assert abs(answer - np.interp(asked, day, shown)) <= 0.5 + 1e-6
        elif asked < day[0]:
            assert answer is None


def rates(*cars, parameters=None):
    """Return shrunken km per year of cars given as (series, years, km)."""
    points = [
        {"vehicle_id": f"C{i}", "day": day, "km": value}
        for i, (_, years, driven) in enumerate(cars)
        for day, value in ((0, 0), (round(years * YEAR), driven))
    ]
    vehicles = [
        {"vehicle_id": f"C{i}", "series": series, "built_on": None, "odometer_digits": None, "trusted": False}
        for i, (series, _, _) in enumerate(cars)
    ]
    frame = pl.DataFrame(points, schema={"vehicle_id": pl.String, "day": pl.Int64, "km": pl.Int64})
    return use_rates(frame, pl.DataFrame(vehicles, schema=VEHICLE_SCHEMA), parameters or Parameters())


def test_a_cars_rate_is_drawn_towards_the_mean_of_the_logarithms():
    found = rates(("S", 4, 4_000), ("S", 4, 16_000))
    mean = (log(1_000) + log(4_000)) / 2
    expected = [exp(0.8 * log(r) + 0.2 * mean) for r in (1_000, 4_000)]
    assert found["km_per_year"].to_list() == pytest.approx(expected, rel=1e-6)


def test_a_car_with_less_than_half_a_year_of_readings_takes_its_series_rate():
    busy = [("S1", 4, 8_000)] * 5
    found = rates(*busy, *([("S2", 4, 40_000)] * 5), ("S1", 0.4, 5_000), ("S3", 0, 0))
    assert found.filter(pl.col("vehicle_id") == "C10").select("own_km_per_year", "km_per_year").row(0) == (
        None,
        pytest.approx(2_000),
    )
    fleet = exp((log(2_000) + log(10_000)) / 2)
    assert found.filter(pl.col("vehicle_id") == "C11")["km_per_year"].item() == pytest.approx(fleet)


def test_without_any_rate_nothing_is_carried_on():
    assert rates(("S", 0, 0))["km_per_year"].to_list() == [None]
    assert km(clock((0, 10_000)), 0, 1) == [10_000, None]


def test_dates_before_1970_work():
    made = clock((-20_000, 1_000), (-19_000, 2_000))
    assert km(made, -19_500) == [1_500]
    assert on(-20_000) < date(1960, 1, 1)


def driven(made, *days):
    rate = made.km_per_year(np.zeros(len(days), dtype=np.int64), pl.Series([on(day) for day in days]))
    return [None if value is None else round(value) for value in rate]


def test_the_driving_around_a_day_is_that_of_the_year_around_it_over_every_piece_of_the_clock():
    # 10 km a day, none for two weeks before the failure on day 1000, then 30 km a day
    made = clock((0, 0), (986, 9_860), (1000, 9_860), (1400, 21_860))
    assert driven(made, 500) == [round(10 * YEAR)]
    assert driven(made, 1000) == [round(((183 - 14) * 10 + 183 * 30) / 366 * YEAR)]


def test_the_driving_around_a_day_near_an_end_is_that_of_the_side_there_is():
    made = clock((0, 1_000), (400, 5_000), (1000, 23_000), parameters=Parameters(carry_on_months=0))
    assert driven(made, 0) == [round(10 * YEAR)]
    assert driven(made, 1000) == [round(30 * YEAR)]


def test_where_the_clock_does_not_reach_the_cars_usual_rate_serves_and_a_parked_car_counts_a_kilometre():
    made = clock((0, 1_000), (400, 5_000))
    assert driven(made, -4000) == [round(made.rate["km_per_year"].item())]
    parked = clock((0, 1_000), (4000, 1_000))
    assert driven(parked, 2000) == [round(YEAR / 366)]
    assert driven(clock(), 5) == [None]
    assert made.km_per_year(np.array([0, -1]), pl.Series([None, on(5)], dtype=pl.Date)).to_list() == [None, None]
