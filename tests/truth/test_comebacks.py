"""Whether the share that comes back, its limits and what chance gives are true, through closed records.

Workshops as in `tests.truth.comebacks`; here few of them, so that the bands are wide. The long run (150 workshops a
cell, seed 5) stands in DEVELOPERS.md.
"""

import pytest
from scipy import stats

from tests.truth.comebacks import REGIMES, World, analysed, by_rule, covered, flagged

pytestmark = pytest.mark.truth

WORKSHOPS, SEED = 20, 5


def least(share, count=WORKSHOPS):
    """A count that a true share of so much falls below once in a thousand runs, as a share."""
    return stats.binom.ppf(0.001, count, share) / count


@pytest.mark.parametrize("regime", REGIMES)
def test_the_share_is_true_however_the_cars_come(regime):
    world = World(returning=0.14, serviced=REGIMES[regime])
    exposure, rows = analysed(world, WORKSHOPS, SEED)
    told, truth = by_rule(exposure, rows), world.comes_back_within(90)
    spread = (truth * (1 - truth) / rows["repairs"].sum()) ** 0.5
    assert told["as counted"] == pytest.approx(truth, abs=3.3 * spread)
    # the simulation can see a rule that is wrong
    assert told["returns at once"] > told["as counted"] + 0.01


@pytest.mark.parametrize("shape", [0.8, 3.0])
def test_where_every_repair_holds_few_are_said_to_come_back_more_than_by_chance(shape):
    _, rows = analysed(World(shape=shape), WORKSHOPS, SEED)
    # at a true share of 0.05, more than 5 of 20 come about once in 3,000 runs
    assert rows.height == WORKSHOPS
    assert flagged(rows) <= 5 / WORKSHOPS


def test_a_unit_that_is_mended_in_place_goes_on_at_its_age():
    _, rows = analysed(World(shape=3.0, minimal=1.0, cars=25), 10, SEED)
    # as if the mended unit were new, chance would give next to nothing
    assert rows["expected_by_chance"].sum() == pytest.approx(rows["returns"].sum(), rel=0.2)
    assert rows["returns"].sum() > 300


def test_limits_hold_and_repairs_that_do_not_hold_are_found():
    world = World(returning=0.14, years=8.0)
    _, rows = analysed(world, WORKSHOPS, SEED)
    assert covered(rows, world.comes_back_within(90)) >= least(0.90)
    assert flagged(rows) >= least(0.90)
