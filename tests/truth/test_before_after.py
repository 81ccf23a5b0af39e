"""Cars are modified because they failed: other comparisons are fooled by it, the verdict is not.

Worlds as in `tests.truth.before_after_fleets`, 120 cars; here 25 fleets a cell, 60 where an effect is found, so the
bands are wide. The long run stands in DEVELOPERS.md.
"""

import pytest

from tests.truth.before_after_fleets import after_two, compared, every_second, held, poisson, wearing

pytestmark = pytest.mark.truth

FLEETS = 25


@pytest.mark.parametrize(
    ("law", "rule", "unlike"), [(poisson, every_second, 2.0), (poisson, after_two, 0.0), (wearing, every_second, 0.0)]
)
def test_a_modification_that_changes_nothing_is_not_said_to_help(law, rule, unlike):
    found = compared(FLEETS, 1, law, rule, unlike=unlike)
    assert 0.8 < found["ratio"].median() < 1.25
    assert found["counting_it"].median() < 0.7, "regression to the mean: anything would seem to help"
    # at a true share of 0.05, more than 5 of 25 come about once in 1,000 runs
    assert (found["verdict"] == "fewer failures").sum() <= 5
    assert held(found, 1.0) >= 0.7


def test_leaving_out_the_failure_that_led_to_it_is_fooled_the_other_way():
    found = compared(FLEETS, 1, poisson, every_second, unlike=0.0)
    assert found["leaving_it_out"].median() > 1.3


def test_a_modification_that_halves_the_failures_is_found_and_its_limits_hold():
    # a fleet's ratio varies by a third: of 25 the median strays too far to tell 0.5 from 0.6
    found = compared(60, 2, poisson, every_second, effect=0.5)
    assert 0.4 < found["ratio"].median() < 0.6
    # 0.59 of 200 fleets, seeds 1 and 2; 0.4 is three standard errors of 60 below
    assert (found["verdict"] == "fewer failures").mean() > 0.4
    assert held(found, 0.5) >= 0.7
