"""Time travel and repetition: the same ledger and day give the same frames, and later records change nothing."""

from dataclasses import fields
from datetime import date

import pytest
from polars.testing import assert_frame_equal

from analytics.parameters import Parameters
from analytics.spells.exposure import Exposure, build_exposure
from tests.spells.random_fleets import AS_OF, random_fleet

EARLIER = date(2006, 7, 1)
FRAMES = [field.name for field in fields(Exposure)]
DATED = {"repairs": "closed_on", "readings": "read_on", "seen": "day", "fitted": "coalesce(fitted_to, fitted_from)"}


def same(left, right, but=()):
    for name in FRAMES:
        if name in but:
            continue
        assert_frame_equal(getattr(left, name), getattr(right, name), check_exact=True)


@pytest.mark.parametrize("seed", range(6))
def test_two_runs_give_the_same_figures_to_the_last_bit(seed):
    same(*(build_exposure(random_fleet(seed), AS_OF, Parameters()) for _ in range(2)))


@pytest.mark.parametrize("seed", range(12))
def test_rule_06_records_after_the_as_of_day_change_nothing(seed):
    whole, cut = random_fleet(seed), random_fleet(seed)
    for table, day in DATED.items():
        cut.execute(f"delete from {table} where {day} > ?", [EARLIER])
    cut.execute("update vehicles set left_on = null, left_why = null where left_on > ?", [EARLIER])
    # what was left out tells how many records are dated later
    same(*(build_exposure(ledger, EARLIER, Parameters()) for ledger in (whole, cut)), but=["left_out"])
