"""Lives follow their laws along the road the car travelled; chance is the same on every machine."""

import math

import numpy as np
import pytest

from sample_data.dice import Dice, Quota
from sample_data.lives import NEVER, Law, Travel, failure_day
from sample_data.units import Lives

AGE = Law("age", 2.6, 7.0, 0.0)
DISTANCE = Law("distance", 2.0, 0.0, 35_000.0)
MIXED = Law("mixed", 3.0, 13.0, 95_000.0)


def road(km_per_day, days=30_000):
    return Travel(700_000, np.full(days, float(km_per_day)))


def test_the_stream_of_a_key_never_changes():
    dice = Dice(1966, "use")
    assert [dice.whole(1, 1000) for _ in range(4)] == [164, 724, 166, 804]


def test_a_quota_fills_its_share_to_one():
    quota = Quota(0.14)
    assert abs(sum(quota.due() for _ in range(1_000)) - 140) <= 1


@pytest.mark.parametrize("law", [AGE, DISTANCE, MIXED])
def test_half_of_the_units_outlive_the_median(law):
    multiples = np.array([law.multiple(Dice("law", number).uniform()) for number in range(4_000)])
    assert np.mean(multiples > 1) == pytest.approx(0.5, abs=0.025)
    # Weibull: ln(-ln S) is straight in ln t with the shape as its slope
    low, high = (np.mean(multiples > t) for t in (0.6, 1.4))
    slope = (math.log(-math.log(high)) - math.log(-math.log(low))) / math.log(1.4 / 0.6)
    assert slope == pytest.approx(law.shape, rel=0.1)


def test_a_life_on_age_ends_after_its_years():
    assert failure_day(AGE, road(0), 700_000, 1.0) == 700_000 + math.ceil(7 * 365.25)


def test_a_life_on_distance_ends_on_the_day_its_km_are_full():
    assert failure_day(DISTANCE, road(10), 700_999, 1.0) == 700_999 + 3_500


def test_a_life_on_distance_never_ends_in_a_car_that_rests():
    assert failure_day(DISTANCE, road(0), 700_000, 1.0) >= NEVER


@pytest.mark.parametrize("km_per_day", [2, 9, 40])
@pytest.mark.parametrize("multiple", [0.2, 1.0, 1.7])
def test_a_mixed_life_is_as_a_slow_search_finds_it(km_per_day, multiple):
    travel = road(km_per_day)
    fitted = 703_000
    goal = multiple**2
    for day in range(fitted + 1, 730_000):
        share = (day - fitted) / (13.0 * 365.25) * (travel.km(day) - travel.km(fitted)) / 95_000.0
        if share >= goal:
            break
    assert failure_day(MIXED, travel, fitted, multiple) == day


def test_a_minimal_repair_leaves_the_unit_as_old_as_it_was():
    after = [AGE.longer(1.0, Dice("repair", number).exponential()) for number in range(4_000)]
    assert min(after) > 1.0
    # of those that reached one median life, half reach S = 1/4, that is 2 ** (1 / shape) medians
    assert np.mean(np.array(after) > 2 ** (1 / AGE.shape)) == pytest.approx(0.5, abs=0.025)


def test_units_with_overridden_lives_do_not_fail():
    lives = Lives(Dice("lives"), car=None, travel=road(10))
    assert lives.fresh("trig", "SL-3101", 700_000).fails_on >= NEVER
    assert lives.fresh("coil", "", 700_000).fails_on >= NEVER
    assert lives.fresh("bat", "", 700_000).fails_on < NEVER


def test_the_second_compound_lasts_twice_as_long_as_the_first():
    lives = Lives(Dice("compounds"), car=None, travel=road(10, 60_000))
    medians = [
        np.median([lives.fresh("vact", number, 700_000).fails_on - 700_000 for _ in range(2_000)])
        for number in ("SL-7101", "SL-7102")
    ]
    assert medians[0] / 365.25 == pytest.approx(7, rel=0.05)
    assert medians[1] / 365.25 == pytest.approx(14, rel=0.05)
