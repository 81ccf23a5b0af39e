"""Odometer figures: each ends as used, converted or set aside with its reason (methods, B1.5)."""

import numpy as np
import polars as pl
import pytest

from analytics.spells.clocks import READING_SCHEMA, VEHICLE_SCHEMA, clocks
from tests.spells.clock_of import AS_OF, clock, km, on, totals, verdicts

STEADY = ((0, 50_000), (365, 52_000), (730, 54_000), (1095, 56_000))
ALONE = "set aside: contradicted by the readings around it"


def with_figure(place, figure):
    rows = list(STEADY)
    rows[place] = (rows[place][0], figure)
    return rows


def test_figures_that_rise_are_used():
    made = clock(*STEADY)
    assert verdicts(made) == ["used"] * 4
    assert totals(made) == [50_000, 52_000, 54_000, 56_000]


def test_miles_become_km_exactly():
    made = clock((0, 1_000), (365, 2_000), unit="mi")
    assert totals(made) == [1_609, 3_219]
    assert verdicts(made) == ["converted: miles to km"] * 2


@pytest.mark.parametrize("digits", [5, None])
def test_a_five_digit_odometer_that_rolls_over_counts_on(digits):
    made = clock((0, 97_000), (365, 99_000), (730, 1_000), (1095, 3_000), odometer_digits=digits)
    assert totals(made) == [97_000, 99_000, 101_000, 103_000]
    assert verdicts(made)[2:] == ["converted: odometer rolled over"] * 2


def test_it_can_roll_over_twice():
    figures = ((0, 90_000), (400, 30_000), (800, 80_000), (1200, 20_000))
    made = clock(*figures, odometer_digits=5)
    assert totals(made) == [90_000, 130_000, 180_000, 220_000]


def test_a_rollover_in_miles_adds_a_turn_in_miles():
    made = clock((0, 99_000), (365, 1_000), (730, 3_000), unit="mi", odometer_digits=5)
    assert totals(made) == [round(m * 1.609344) for m in (99_000, 101_000, 103_000)]


def test_a_six_digit_odometer_does_not_roll_over_at_a_hundred_thousand():
    made = clock((0, 97_000), (365, 99_000), (730, 1_000), (1095, 3_000), odometer_digits=6)
    assert "rolled" not in " ".join(verdicts(made))


def test_figures_in_the_other_unit_from_some_day_on_are_converted():
    made = clock(*STEADY[:3], (1095, 56_000 / 1.609344), (1460, 58_000 / 1.609344))
    assert totals(made) == [50_000, 52_000, 54_000, 56_000, 58_000]
    assert verdicts(made)[3:] == ["converted: figure in the other unit"] * 2


@pytest.mark.parametrize("factor", [1.609344, 1 / 1.609344])
def test_one_figure_in_the_other_unit_is_converted_alone(factor):
    made = clock(*with_figure(2, 54_000 * factor))
    assert totals(made) == [50_000, 52_000, 54_000, 56_000]
    assert verdicts(made) == ["used", "used", "converted: figure in the other unit", "used"]


def test_of_two_units_the_one_that_most_figures_are_in_is_kept():
    made = clock((0, 50_000 / 1.609344), *STEADY[1:], (1200, 56_500))
    # a step of 20,000 km in a year is no jump, so nothing tells that the first figure is in miles
    assert verdicts(made) == ["used"] * 5
    made = clock((0, 150_000 / 1.609344), (100, 150_500), (200, 151_000), (300, 151_500))
    assert totals(made) == [150_000, 150_500, 151_000, 151_500]


@pytest.mark.parametrize("figure", [5_400, 540_000, 45_000, 53])
def test_a_lone_figure_that_its_neighbours_contradict_is_set_aside(figure):
    made = clock(*with_figure(2, figure))
    assert totals(made) == [50_000, 52_000, None, 56_000]
    assert verdicts(made)[2] in (ALONE, "set aside: impossible jump")


def test_a_first_figure_is_outvoted_by_two_that_agree():
    assert totals(clock(*with_figure(0, 500_000))) == [None, 52_000, 54_000, 56_000]


def test_a_last_figure_below_the_one_before_is_set_aside():
    made = clock(*with_figure(3, 53_000))
    assert totals(made) == [50_000, 52_000, 54_000, None]
    assert verdicts(made)[3] == "set aside: below the reading before it, and none after it bears it out"


def test_two_wrong_figures_in_a_row_do_not_carry_the_clock_away():
    made = clock(*STEADY[:2], (730, 5_400), (800, 5_500), *((1095 + i * 365, 56_000 + i * 2_000) for i in range(3)))
    assert totals(made) == [50_000, 52_000, None, None, 56_000, 58_000, 60_000]


def test_an_exchanged_instrument_counts_on_at_the_cars_rate():
    made = clock(*STEADY[:3], (1095, 1_500), (1460, 3_500), exchanged=(800,))
    assert totals(made) == [50_000, 52_000, 54_000, 56_000, 58_000]
    assert verdicts(made)[3:] == ["converted: instrument exchanged"] * 2


def test_a_lasting_drop_is_taken_for_an_exchange_that_nobody_recorded():
    made = clock(*STEADY[:3], (1095, 1_500), (1460, 3_500))
    assert totals(made) == [50_000, 52_000, 54_000, 56_000, 58_000]
    assert verdicts(made)[3] == "converted: lasting change, taken for an exchanged instrument"


def test_a_drop_after_years_without_readings_breaks_the_clock():
    made = clock(*STEADY[:3], (2190, 1_500), (2555, 3_500))
    assert totals(made) == [50_000, 52_000, 54_000, None, None]
    assert set(verdicts(made)[3:]) == {
        "set aside: after an unexplained change that no reading was near enough to bridge"
    }


def test_an_impossible_jump_is_set_aside():
    made = clock(*STEADY, (1125, 130_000))
    assert verdicts(made)[4] == "set aside: impossible jump"


def test_a_car_that_is_driven_much_sets_its_own_limit():
    monthly = [(30 * i, 15_000 * i) for i in range(12)]
    assert verdicts(clock(*monthly)) == ["used"] * 12


def test_a_long_drive_between_two_near_readings_is_no_jump():
    assert verdicts(clock(*STEADY, (1096, 57_200)))[4] == "used"


def test_a_stated_figure_goes_before_a_separate_reading():
    months = [(30 * i, 100_000 + 2_000 * i) for i in range(8)]
    made = clock(*months[:4], (95, 111_500), *months[4:], stated=(4,))
    assert verdicts(made)[4] == "used: stated at the repair, not on the car's clock"
    assert totals(made)[4] == 111_500
    assert km(made, 95) == [106_333]


def test_a_stated_figure_that_the_car_never_came_near_is_set_aside():
    months = [(30 * i, 100_000 + 2_000 * i) for i in range(8)]
    made = clock(*months[:4], (95, 11_150), *months[4:], stated=(4,))
    assert verdicts(made)[4] == ALONE
    assert totals(made)[4] is None


def test_a_stated_figure_that_other_repairs_contradict_is_set_aside():
    made = clock(*with_figure(2, 51_500), stated=(0, 1, 2, 3))
    assert verdicts(made)[2] == ALONE


def test_every_figure_has_one_verdict_and_its_total_only_if_not_set_aside():
    rng = np.random.default_rng(7)
    figures = [(int(day), float(rng.integers(1, 120_000))) for day in sorted(rng.integers(0, 4000, 60))]
    made = clock(*figures, stated=tuple(range(0, 60, 3)), odometer_digits=5)
    assert made.reading.height == 60
    kinds = made.reading.with_columns(kind=pl.col("verdict").str.extract(r"^(used|converted|set aside)"))
    assert kinds["kind"].null_count() == 0
    assert kinds.filter((pl.col("kind") == "set aside") != pl.col("total_km").is_null()).is_empty()
    assert made.point["km"].diff().drop_nulls().min() >= 0


def test_what_one_car_shows_says_nothing_of_another():
    rng = np.random.default_rng(3)
    cars, steps = 40, 30
    total = np.cumsum(rng.exponential(900, (cars, steps)), axis=1) + rng.uniform(2e4, 9e4, (cars, 1))
    wrong = (rng.random((cars, steps)) < 0.03) & (np.arange(steps) > 2)
    shown = np.where(wrong, total * rng.choice([0.1, 10.0, 1.609344, 1 / 1.609344], (cars, steps)), total).round()
    rows = pl.DataFrame(
        {
            "vehicle_id": np.repeat([f"C{i:02d}" for i in range(cars)], steps),
            "read_on": [on(120 * i) for i in range(steps)] * cars,
            "seen_at": [str(i) for i in range(cars * steps)],
            "odometer": shown.ravel(),
            "odometer_unit": "km",
            "stated": False,
        }
    ).select(list(READING_SCHEMA))
    fleet = pl.DataFrame({"vehicle_id": sorted(set(rows["vehicle_id"])), "series": "S"}).with_columns(
        built_on=pl.lit(None, dtype=pl.Date), odometer_digits=pl.lit(None, dtype=pl.Int64), trusted=pl.lit(value=False)
    )
    together = clocks(rows, fleet.select(list(VEHICLE_SCHEMA)), AS_OF)
    right = pl.DataFrame({"seen_at": rows["seen_at"], "truth": total.ravel(), "wrong": wrong.ravel()})
    judged = together.reading.join(right, on="seen_at")
    off = judged.filter((pl.col("total_km") - pl.col("truth")).abs() > 0.02 * pl.col("truth"))
    assert off.height <= 0.01 * judged.height
    lost = judged.filter(~pl.col("wrong") & pl.col("total_km").is_null())
    assert lost.height <= 0.01 * judged.height
