"""Demand from units in place, with laws that are certain: against exact sums and draws."""

import numpy as np
import polars as pl
import pytest
from numpy.testing import assert_allclose
from scipy.stats import poisson_binom

from analytics.stock.cars_behind import behind, expected_of_cars, named
from analytics.stock.in_care import InCare
from analytics.stock.installed_base import BaseDemand
from analytics.stock.laws import DRAWS, StockLaws
from analytics.stock.like_units import KNOWN, Units
from analytics.stock.presence import Presence, Seen
from analytics.stock.streams import Streams

YEAR = 365.25
SHAPE, LIFE = 3.0, 8 * YEAR
SURE = 1e9
"""So many failures seen and expected that the component's factor is 1."""


def laws(count=1):
    key = pl.DataFrame({"component": [f"part {n}" for n in range(count)], "level": "all", "scale": "age"})
    key = key.with_columns(law=pl.int_range(count, dtype=pl.Int64), failures=pl.lit(40, dtype=pl.Int64))
    drawn = np.full((count, DRAWS), SHAPE), np.full((count, DRAWS), LIFE)
    heavy = np.full((count, 12), SHAPE), np.full((count, 12), LIFE), np.full((count, 12), 1 / 12)
    return StockLaws(key, (), *drawn, *heavy)


def care(car, age, q, law=None, critical=(), left=(0.0, 1e9)):
    """An installed base of units of known age."""
    cars, units = len(q), len(age)
    law = np.zeros(units, np.int64) if law is None else np.array(law)
    return InCare(
        day=20_000.0,
        start=14_000.0,
        cars=pl.DataFrame({"vehicle_id": [f"car {n}" for n in range(cars)]}),
        seen=Seen(np.ones(cars, bool), np.full(cars, 15_000.0), np.full(cars, 19_990.0), np.zeros(cars)),
        q=np.array(q, float),
        presence=Presence(1.0, 4.0, fitted=True),
        laws=laws(int(law.max()) + 1),
        places=pl.DataFrame(),
        units=Units(np.array(car), law, np.full(units, KNOWN), np.array(age, float), np.zeros(units), np.ones(units)),
        factor={f"part {n}": (SURE, SURE) for n in range(int(law.max()) + 1)},
        left=left,
        critical=frozenset(critical),
    )


def streams(answered=None, **values):
    """Nothing joins, nothing is planned, every failure takes the part."""
    told = {
        "answered": answered or {f"part {n}": (10, 10, 1.0) for n in range(3)},
        "planned": 0,
        "planned_years": 1e12,
        "active_cars": 0,
        "joiners": 0,
        "joining_years": 1e12,
        "joining_repairs": 0,
        "all_joiners": 0,
        "joined_lately": 0,
        "quantities": np.ones(100_000, np.int64),
        "campaign_years": (),
    }
    return Streams(**{**told, **values})


def demand(installed, told=None, sales=(0, 0.0)):
    rows, cars = np.arange(installed.units.car.size), np.arange(installed.q.size)
    return BaseDemand("P", installed, rows, cars, told or streams(), sales)


def mass(one, days):
    return one.predictive.mass(one.repairs(np.full((1, DRAWS), days))[0])


def chance(age, days):
    return -np.expm1(-(((age + days) / LIFE) ** SHAPE - (age / LIFE) ** SHAPE))


AGES = np.linspace(1, 11, 40) * YEAR


def test_units_of_known_age_in_cars_surely_here_are_the_sum_of_their_chances():
    """Exact law of scipy; a second failure within 60 days has a chance below 0.0001."""
    found = mass(demand(care(np.arange(40), AGES, np.ones(40))), 60.0)
    exact = poisson_binom.pmf(np.arange(found.size), chance(AGES, 60.0))
    assert np.abs(found - exact).sum() / 2 < 0.01


def test_a_car_that_may_have_left_counts_with_its_presence():
    one = demand(care(np.arange(40), AGES, np.full(40, 0.4)))
    assert one.by_stream(np.full((1, DRAWS), 60.0)).failing == pytest.approx(0.4 * chance(AGES, 60.0).sum(), rel=1e-3)
    exact = poisson_binom.pmf(np.arange(20), 0.4 * chance(AGES, 60.0))
    assert_allclose(mass(one, 60.0)[:8], exact[:8], atol=0.01)


def test_units_of_one_car_are_present_or_gone_together():
    """Against 400,000 draws, seed 3: 12 cars of four units each, each car here with one chance in two."""
    car, age = np.repeat(np.arange(12), 4), np.tile([7, 8, 9, 10], 12) * YEAR
    found = mass(demand(care(car, age, np.full(12, 0.5))), 200.0)
    rng, n = np.random.default_rng(3), 400_000
    here = rng.random((n, 12)) < 0.5
    each = chance(age, 200.0)
    needed = sum((here[:, car[unit]] & (rng.random(n) < each[unit])).astype(int) for unit in range(48))
    seen = np.bincount(needed, minlength=found.size)[: found.size] / n
    assert np.abs(found - seen).sum() / 2 < 0.02
    apart = mass(demand(care(np.arange(48), age, np.full(48, 0.5))), 200.0)
    spread = [((np.arange(m.size) ** 2) @ m - (np.arange(m.size) @ m) ** 2) for m in (found, apart)]
    assert spread[0] > 1.3 * spread[1]


def test_a_second_failure_of_a_position_is_counted_over_long_horizons():
    """Renewals within the horizon: 1 + F(h / 2), as rule 38 says."""
    days = 2000.0
    one = demand(care(np.arange(40), np.full(40, 7 * YEAR), np.ones(40)))
    once, again = chance(7 * YEAR, days), chance(0.0, days / 2)
    assert one.by_stream(np.full((1, DRAWS), days)).failing == pytest.approx(40 * once * (1 + again), rel=1e-3)


def test_the_share_that_takes_the_part_thins_the_failures():
    told = streams({"part 0": (300, 1000, 1.0)})
    whole, thinned = (
        demand(care(np.arange(40), AGES, np.ones(40)), s).by_stream(np.full((1, DRAWS), 60.0)).failing
        for s in (None, told)
    )
    assert thinned == pytest.approx(0.3 * whole, rel=0.02)


def test_a_part_that_no_failure_took_is_foretold_to_be_needed_by_hardly_any():
    told = streams({"part 0": (0, 1000, 0.5)})
    assert demand(care(np.arange(40), AGES, np.ones(40)), told).by_stream(np.full((1, DRAWS), 60.0)).failing < 0.01


def test_a_factor_below_one_says_that_the_law_has_foretold_too_much():
    installed = care(np.arange(40), AGES, np.ones(40))
    installed.factor["part 0"] = (50.0, 110.0)
    whole = chance(AGES, 60.0).sum()
    assert demand(installed).by_stream(np.full((1, DRAWS), 60.0)).failing == pytest.approx(0.5 * whole, rel=0.02)


def test_the_streams_beside_are_gamma_poisson_with_the_stated_means():
    told = streams(planned=30, planned_years=299.0, active_cars=100, joiners=12, joining_years=3.0,
                   joining_repairs=5, all_joiners=49)  # fmt: skip
    one = demand(care(np.arange(40), AGES, np.ones(40)), told, (9, 3.0))
    days = 90.0
    found, years = one.by_stream(np.full((1, DRAWS), days)), days / YEAR
    assert found.planned == pytest.approx(30.5 / 300 * 100 * years)
    assert found.sold == pytest.approx(9.5 / 3 * years)
    per_joiner = 5.5 / 50 + found.failing / 40 / 2
    assert found.joining == pytest.approx(12.5 / 3 * years * per_joiner, rel=0.02)
    parts = mass(one, days)
    total = found.failing + found.joining + found.planned + found.sold
    assert parts @ np.arange(parts.size) == pytest.approx(total, rel=0.01)


def test_an_ageing_wave_is_needed_when_it_comes_due_and_not_before():
    """40 units fitted at once, life 8 years: two years from year 1, and from year 7."""
    young, old = (
        demand(care(np.arange(40), np.full(40, age * YEAR), np.ones(40))).by_stream(np.full((1, DRAWS), 730.0)).failing
        for age in (1, 7)
    )
    assert young < 3
    assert old > 20


def test_rule_07_the_draws_of_a_group_are_moved_by_no_other_component():
    alone = demand(care(np.arange(40), AGES, np.ones(40)), streams({"part 0": (30, 90, 1.0)}))
    both = care(np.tile(np.arange(40), 2), np.tile(AGES, 2), np.ones(40), law=np.repeat([0, 1], 40))
    beside = BaseDemand(
        "P", both, np.arange(40), np.arange(40), streams({"part 0": (30, 90, 1.0), "part 1": (5, 9, 1.0)}), (0, 0.0)
    )
    assert_allclose(mass(alone, 90.0), mass(beside, 90.0), rtol=1e-12)


def test_the_cars_behind_it_are_named_and_none_of_a_safety_critical_part():
    ages = np.array([1.0, 11.0, 2.0, 9.0]) * YEAR
    days = np.full((1, DRAWS), 90.0)
    one = demand(care(np.arange(4), ages, np.array([1.0, 1.0, 0.5, 1.0])))
    expected = expected_of_cars(one, days)
    assert named(one, expected, 2) == ("car 1", "car 3")
    rows = behind(one, expected)
    assert [row["vehicle_id"] for row in rows] == ["car 1", "car 3", "car 2", "car 0"]
    assert rows[2]["presence"] == 0.5
    # but for second failures within the horizon, the cars add up to what the group expects
    assert sum(row["expected"] for row in rows) == pytest.approx(one.by_stream(days).failing, rel=1e-9)
    critical = demand(care(np.arange(4), ages, np.ones(4), critical=["part 0"]))
    assert named(critical, expected_of_cars(critical, days), 2) == ()
    told = behind(critical, expected_of_cars(critical, days))
    assert [(row["vehicle_id"], row["expected"]) for row in told] == [(f"car {n}", None) for n in range(4)]
