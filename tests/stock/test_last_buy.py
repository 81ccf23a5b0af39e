"""Which batch to buy where supply ends: pledges, costs, regret."""

import numpy as np
import pytest
from scipy.stats import poisson

from analytics.parameters import Parameters
from analytics.stock.costs import Costs, costs_of
from analytics.stock.demand import History
from analytics.stock.history import Counted
from analytics.stock.last_buy import last_buy, last_level, pays_from, sizes, supply_rows
from analytics.stock.supply_end import YEARS, Ahead, batches, brought_forward
from tests.stock.test_quantity import YEAR, poisson_demand, shelf

COSTLY = Parameters(holding_share=0.1, shortage_cost=300.0)


class Known:
    """A group without an installed base."""

    live_no, basis = "P", "no unit of it is known to sit in a car"
    counted = Counted(History(80, 500.0, 100, np.ones(80, np.int64)), (), None)


def rows(demand, here, settings=None):
    return supply_rows(Known(), here, demand, settings or Parameters())


def test_a_group_that_can_be_bought_again_has_no_row():
    assert rows(poisson_demand(8.0), shelf()) == []
    assert rows(poisson_demand(0.01), shelf()) == []  # one at a time, however seldom it is needed
    assert supply_rows(Known(), shelf(supply_ends=True), None, Parameters()) == []


def test_where_supply_ends_the_last_buy_lasts_with_the_service_level():
    found = rows(poisson_demand(8.0), shelf(3.0, supply_ends=True, pack_size=4))
    need = poisson.ppf(0.9, 80) - 3
    assert found[0]["last_buy"] == 4 * np.ceil(need / 4)
    (advised,) = [row for row in found if row["advised"]]
    assert advised["batch"] == advised["last_buy"]
    assert advised["p_enough"] == pytest.approx(poisson.cdf(advised["batch"] + 3, 80), abs=1e-6)
    assert [row["batch"] for row in found] == [0, 48, 92, 96, 144, 192]
    assert {row["regret"] for row in found} == {None}


def test_a_batch_is_looked_ahead_no_further_than_it_keeps():
    """Three years of eight: 24 needed, and nothing bought for the seven years after."""
    found = rows(poisson_demand(8.0), shelf(supply_ends=True, shelf_life_days=3.5 * YEAR))
    assert {row["years"] for row in found} == {3.0}
    assert found[0]["last_buy"] == poisson.ppf(0.9, 24)
    assert {row["years"] for row in rows(poisson_demand(8.0), shelf(supply_ends=True, shelf_life_days=1e5))} == {10.0}


def test_pledged_parts_go_first_and_are_missing_where_there_are_too_few():
    plain = rows(poisson_demand(8.0), shelf(3.0, supply_ends=True))
    promised = rows(poisson_demand(8.0), shelf(3.0, pledged=25.0))
    assert promised[0]["last_buy"] == plain[0]["last_buy"] + 25
    none = promised[0]
    assert (none["batch"], none["pledged"], none["p_enough"]) == (0, 25.0, 0.0)
    assert none["expected_unmet"] == pytest.approx(80 + 25 - 3)
    assert none["runs_out_p10"] == none["runs_out_p90"] == 0.0


def test_a_pledge_of_a_car_in_care_is_not_counted_once_more_as_its_need():
    """Eight a year of 100 cars, 80 in ten years: a car needs none with exp(-0.8); 40 pledged add 40 x 0.449 = 18."""
    plain = rows(poisson_demand(8.0), shelf(3.0, supply_ends=True))
    inside = rows(poisson_demand(8.0), shelf(3.0, pledged_in_care=40.0))
    beside = rows(poisson_demand(8.0), shelf(3.0, pledged=40.0))
    assert inside[0]["expected_need"] == pytest.approx(80 + 40 * np.exp(-0.8), rel=1e-3)
    assert inside[0]["expected_unmet"] == pytest.approx(80 + 40 * np.exp(-0.8) - 3, rel=1e-3)
    assert plain[0]["last_buy"] < inside[0]["last_buy"] < beside[0]["last_buy"] == plain[0]["last_buy"] + 40
    assert inside[0]["runs_out_p10"] == inside[0]["runs_out_p90"] == 0.0  # taken at once, and 3 are there
    assert (inside[0]["pledged"], inside[0]["pledged_in_care"]) == (0.0, 40.0)


@pytest.mark.parametrize(("a_car", "pledging"), [(0.2, 60), (0.8, 40), (3.0, 90)])
def test_what_pledging_cars_take_agrees_with_draws_of_every_car(a_car, pledging):
    """100 cars, each needs a Poisson count; who pledged takes one now and one less later; 200,000 fleets, seed 5."""
    rng = np.random.default_rng(5)
    own = rng.poisson(a_car, (200_000, pledging))
    taken = np.maximum(own, 1).sum(axis=1) + rng.poisson(a_car * (100 - pledging), 200_000)
    mass = poisson.pmf(np.arange(800), 100 * a_car)
    (found,) = brought_forward(Ahead((10.0,), (mass / mass.sum(),)), pledging, 100).masses
    assert found @ np.arange(found.size) == pytest.approx(taken.mean(), rel=2e-3)
    for chance in (0.1, 0.5, 0.9):
        # that who needs none is who takes one more narrows it a little; here it is taken as chance alone
        assert np.searchsorted(np.cumsum(found), chance) == pytest.approx(np.quantile(taken, chance), abs=4)


def test_whoever_pledges_takes_the_part_however_little_is_needed():
    (mass,) = brought_forward(Ahead((1.0,), (np.array([1.0]),)), 7.0, 100).masses
    assert mass[7] == pytest.approx(1.0)
    (unknown,) = brought_forward(Ahead((1.0,), (np.eye(6)[5],)), 7.0, 0).masses  # nobody knows whose cars they are
    assert unknown[12] == pytest.approx(1.0)


def test_without_costs_a_batch_pays_from_so_many_pledges_that_it_is_used_up():
    """80 needed, a Poisson count that is at least 69 in nine of ten: 31 more make 100 used up."""
    mass = poisson.pmf(np.arange(200), 80)
    ahead, costs = Ahead((10.0,), (mass / mass.sum(),)), Costs()
    needed = pays_from(ahead, 100, 0.0, costs, 0.9)
    assert poisson.sf(100 - needed - 1, 80) >= 0.9 > poisson.sf(100 - needed, 80)
    assert pays_from(ahead, 100, 7.0, costs, 0.9) == needed + 7
    assert pays_from(ahead, 20, 0.0, costs, 0.9) == 0
    assert pays_from(ahead, 0, 0.0, costs, 0.9) is None


@pytest.mark.parametrize(
    ("shortage", "held", "pays"),
    [
        (1.0, 0, 23),  # 4 (66 - 30 - p) <= 30 + p
        (4.0, 0, 3),  # 4 (66 - 30 - p) <= 4 (30 + p)
        (1.0, 6, 29),  # 4 (72 - 30 - p) <= 24 + p
        (9.0, 0, 0),
    ],
)
def test_with_costs_a_batch_pays_from_so_many_pledges_that_it_is_no_dearer_than_none(shortage, held, pays):
    """Thirty needed for certain, a batch of 66 at 4 each: what is left over against what is asked for in vain."""
    ahead = Ahead((1.0,), (np.eye(31)[30],))
    assert pays_from(ahead, 66, float(held), Costs(unit=4.0, shortage=shortage), 0.9) == pays


def test_costs_choose_the_batch_and_the_regret_is_what_another_one_costs_more():
    found = rows(poisson_demand(8.0), shelf(minimum_order=30, unit_cost=40.0, currency="EUR"), COSTLY)
    cost = {row["batch"]: row["expected_cost"] for row in found}
    (advised,) = [row for row in found if row["advised"]]
    assert cost[advised["batch"]] == min(cost.values())
    assert advised["regret"] == 0
    for row in found:
        assert row["regret"] == pytest.approx(row["expected_cost"] - advised["expected_cost"])
    # nothing bought: eighty asked for in vain
    assert cost[0] == pytest.approx(80 * 300.0)


def test_the_level_of_a_last_batch_is_the_newsvendors_ratio():
    """A part too many costs its price and ten years of holding: 40 + 40; 300 / 380."""
    costs = costs_of(40.0, None, COSTLY)
    assert last_level(costs, YEARS, COSTLY) == pytest.approx(300 / (300 + 40 + 0.1 * 40 * YEARS))
    assert last_level(Costs(), YEARS, Parameters(service_level=0.8)) == 0.8


def test_no_quantity_is_cheaper_than_the_newsvendors_where_nothing_is_held():
    """Uniform on 50 to 80, price 7, cost 5 (encyclopaedia example, from memory): 58.57, rounded up to 59."""
    mass = np.zeros(81)
    mass[51:] = 1 / 30
    ahead = Ahead((1.0,), (mass,))
    level = last_level(Costs(unit=5.0, shortage=2.0), YEARS, Parameters())
    assert last_buy(ahead, shelf(), 0.0, level) == 59
    compared = batches(ahead, range(45, 85), 0.0)
    cost = {row.batch: 2.0 * row.expected_unmet + 5.0 * row.expected_left for row in compared}
    assert cost[59] == pytest.approx(min(cost.values()))


def test_holding_is_what_lies_on_the_shelf_from_year_to_year():
    """Ten a year, certain: a batch of 20 is half gone after a year: 15 + 5 part-years."""
    ahead = Ahead((1.0, 2.0), tuple(np.eye(21)[n] for n in (10, 20)))
    (row,) = batches(ahead, [20], 0.0)
    assert row.held_years == pytest.approx(15 + 5)


def test_the_smallest_order_is_the_step_where_it_is_a_long_supply_by_itself():
    assert sizes(shelf(minimum_order=60), 75, outlasts=True) == [0, 60, 75, 120, 180, 240]
    assert sizes(shelf(pack_size=10), 75, outlasts=False) == [0, 40, 75, 80, 120, 160]
    assert YEAR == 365.25
