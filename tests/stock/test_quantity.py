"""What to order: packs, batches that age, costs, and what other quantities would mean."""

from datetime import date, timedelta
from itertools import pairwise

import numpy as np
import polars as pl
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.stats import poisson

from analytics.parameters import Parameters
from analytics.records.feed import PARTS, STOCK
from analytics.stock.costs import BY_COSTS, BY_SETTING, Costs, costs_of
from analytics.stock.group_demand import HORIZONS, GroupDemand
from analytics.stock.quantity import choices, to_order
from analytics.stock.shelf import Shelf, shelf_of

AS_OF = date(2020, 12, 31)
YEAR = 365.25
NO_COSTS = Costs()


def poisson_demand(a_year, horizon=90.0):
    """A group whose demand is a Poisson count of known rate."""

    def until(days):
        mean = a_year * days / YEAR
        mass = poisson.pmf(np.arange(int(poisson.isf(1e-12, mean)) + 2), mean)
        return mass / mass.sum()

    masses = {h: until(h) for h in (*HORIZONS, horizon)}
    return GroupDemand("pooled rate", horizon, masses, a_year * horizon / YEAR, None, until)


def shelf(on_hand=0.0, **values):
    told = {"reserved": 0.0, "on_order": (), "lead_time_days": 60.0, "lead_time_p90_days": None, "pack_size": 1}
    told |= {"minimum_order": 1, "shelf_life_days": None, "looks_like": None}
    return Shelf(on_hand, **{**told, **values})


def ordered(demand, here, costs=NO_COSTS, level=0.9):
    return to_order(demand, here, costs, level)


def test_the_point_covers_the_poisson_demand_of_mean_two_as_tabled():
    """Poisson law of mean 2 (tables, from memory): P(D <= 4) = 0.947, P(D <= 3) = 0.857."""
    demand = poisson_demand(2 * YEAR / 90)
    order = ordered(demand, shelf())
    assert (order.point, order.quantity) == (4, 4)
    named = {choice.choice: choice for choice in choices(order, demand, shelf(), NO_COSTS)}
    assert named["advised"].p_short == pytest.approx(1 - 0.9473, abs=1e-4)
    assert named["smaller pack"].p_short == pytest.approx(1 - 0.8571, abs=1e-4)
    assert named["nothing"].p_short == pytest.approx(1 - np.exp(-2))
    assert named["nothing"].expected_short == pytest.approx(2)
    assert (named["larger pack"].quantity, named["larger pack"].packs) == (5, 5)


def test_nothing_to_order_is_held_against_the_smallest_order():
    demand, here = poisson_demand(4.0), shelf(9.0, pack_size=4, minimum_order=5)
    order = ordered(demand, here)
    assert order.quantity == 0
    assert [(c.choice, c.quantity, c.packs) for c in choices(order, demand, here, NO_COSTS)] == [
        ("advised", 0, 0),
        ("larger pack", 8, 2),
    ]


@given(
    st.floats(0.2, 60), st.integers(-5, 30), st.integers(1, 12), st.integers(1, 40), st.sampled_from([0.5, 0.9, 0.99])
)
def test_the_order_is_the_least_of_whole_packs_and_more_is_never_worse(a_year, on_hand, pack, least, level):
    demand, here = poisson_demand(a_year), shelf(float(on_hand), pack_size=pack, minimum_order=least)
    order = ordered(demand, here, level=level)
    assert order.quantity % pack == 0
    if order.quantity:
        assert order.quantity >= least
        assert on_hand + order.quantity >= order.point
        assert on_hand + order.quantity - pack < order.point or order.quantity - pack < least
    else:
        assert on_hand >= order.point
    told = sorted(choices(order, demand, here, NO_COSTS), key=lambda choice: choice.quantity)
    for less, more in pairwise(told):
        assert less.p_short >= more.p_short
        assert less.expected_short >= more.expected_short
        assert less.expected_left <= more.expected_left
        assert (less.lasts_months or 0) <= (more.lasts_months if more.lasts_months is not None else np.inf)
    for choice in told:
        stock = on_hand + choice.quantity
        # what there was is used or left over, and what was asked for is had or not
        assert choice.expected_left - choice.expected_short == pytest.approx(stock - demand.mean, abs=1e-6)


def test_stock_lasts_until_half_of_all_cases_have_used_it():
    """Twelve a year: ten parts last ten months, less a third of a gap between two: the Poisson count's median."""
    demand, here = poisson_demand(12.0), shelf(10.0)
    (advised, _) = choices(ordered(demand, here), demand, here, NO_COSTS)
    assert advised.lasts_months == pytest.approx(9.67, abs=0.4)
    idle = poisson_demand(0.5)
    assert choices(ordered(idle, here), idle, here, NO_COSTS)[0].lasts_months is None


def test_a_quantity_is_cut_to_what_is_used_within_years_of_shelf_life_not_within_two():
    """Twenty a year for seven years: 140, so that a batch of 60 is used in time and one of 200 is not."""
    demand = poisson_demand(20.0)
    seven = {"shelf_life_days": 7 * YEAR, "minimum_order": 60}
    assert ordered(demand, shelf(**seven)).quantity == 60
    order = ordered(demand, shelf(**{**seven, "minimum_order": 200}))
    assert order.cut_from == 200
    assert order.quantity == poisson.ppf(0.2, 140)
    told = {c.choice: c for c in choices(order, demand, shelf(**{**seven, "minimum_order": 200}), NO_COSTS)}
    assert told["advised"].p_aged == pytest.approx(poisson.cdf(order.quantity - 1, 140), abs=1e-6)
    assert told["nothing"].p_aged is None


def test_what_will_be_too_old_before_it_is_used_cannot_be_counted_on():
    """Two batches age after 30 and 60 days; at 36 a year, 2 and 5 are used by then, the oldest first."""
    here = shelf(20.0, ageing=((6.0, 30.0), (4.0, 60.0), (10.0, 900.0)))
    assert here.ageing_within(90.0) == 10
    assert here.ages_unused(90.0, 36 / YEAR) == pytest.approx((6 - 2) + (4 - 3))
    assert ordered(poisson_demand(36.0), here).available == 15


def counted(*batches):
    rows = [{"part_no": no, "counted_on": AS_OF, "on_hand": n, "made_on": made} for no, n, made in batches]
    return pl.DataFrame([{**dict.fromkeys(STOCK.names), **row} for row in rows], schema=STOCK.schema)


def listed(**values):
    rows = [
        {"part_no": "A", "component": "hose", "superseded_by": "B"},
        {"part_no": "B", "component": "hose", "shelf_life_months": 24.0, **values},
    ]
    return pl.DataFrame([{**dict.fromkeys(PARTS.names), **row} for row in rows], schema=PARTS.schema)


def test_batches_are_told_apart_by_the_day_they_were_made():
    months = timedelta(days=30.4375)
    here = shelf_of(
        listed(),
        "B",
        counted(("B", 3.0, AS_OF - 30 * months), ("B", 4.0, AS_OF - 23 * months), ("A", 2.0, None)),
        AS_OF,
    )
    assert (here.on_hand, here.aged, here.old_numbers) == (6.0, 3.0, 2.0)
    assert here.ageing == ((4.0, pytest.approx(30.5, abs=1)),)
    assert shelf_of(listed(shelf_life_months=None), "B", counted(("B", 3.0, AS_OF - 90 * months)), AS_OF).aged == 0


SETTINGS = Parameters(holding_share=0.24, shortage_cost=180.0, order_cost=25.0, review_days=30, currency="EUR")


def test_costs_set_the_level_by_the_newsvendors_ratio():
    """Holding 0.24 of 100 a year is 1.97 over 30 days; 180 / (180 + 1.97) = 0.9892."""
    costs = costs_of(100.0, "EUR", SETTINGS)
    level, by = costs.level(SETTINGS)
    assert by == BY_COSTS
    assert level == pytest.approx(180 / (180 + 24 * 30 / YEAR))
    assert ordered(poisson_demand(8.0), shelf(), costs, level).point == poisson.ppf(level, 8 * 90 / YEAR)


@pytest.mark.parametrize(
    ("price", "currency", "settings", "why"),
    [
        (100.0, "EUR", Parameters(), None),
        (None, None, SETTINGS, "its price is not stated, so costs are left out"),
        (100.0, "CHF", SETTINGS, "the costs stated are in EUR and its price in CHF, so they are left out"),
    ],
)
def test_without_comparable_costs_the_setting_rules(price, currency, settings, why):
    costs = costs_of(price, currency, settings)
    assert costs.level(settings) == (settings.service_level, BY_SETTING)
    assert costs.why_not == why
    assert costs.cheapest_packs(100.0, 5) == 1


def test_the_packs_at_a_time_are_those_next_to_the_economic_quantity():
    """Harris (1913), Factory 10(2): 1,000 a month, $2 an order, $0.10 a piece at 10 %: 2,190.89; packs of 500: 4."""
    costs = Costs(unit=0.10, holding_a_year=0.01, order=2.0)
    assert costs.cheapest_packs(12_000.0, 1) == 2191
    assert costs.cheapest_packs(12_000.0, 500) == 4
    assert costs.cheapest_packs(0.0, 500) == 1


@given(st.floats(0.1, 1e4), st.floats(0.1, 1e4), st.floats(0.01, 1e3), st.integers(1, 50))
def test_no_other_number_of_packs_is_cheaper(a_year, order, holding, pack):
    best = Costs(unit=1.0, holding_a_year=holding, order=order).cheapest_packs(a_year, pack)
    packs = np.arange(1, best + 50)
    cost = a_year / (packs * pack) * order + packs * pack / 2 * holding
    assert cost[best - 1] == pytest.approx(cost.min())
